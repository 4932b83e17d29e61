/* SPDX-License-Identifier: Apache-2.0 */
/* A night in a word, and in sentences. */
#include "parse.h"
#include "report_nights.h"
#include "report_parts.h"
#include "units.h"

#include <string.h>

const char *night_cause_name(enum night_cause cause)
{
    switch (cause) {
    case NIGHT_CAUSE_HAND:
        return "hand";
    case NIGHT_CAUSE_TRY:
        return "try";
    case NIGHT_CAUSE_SWITCH:
        return "switch";
    case NIGHT_CAUSE_LAMP:
        return "lamp";
    case NIGHT_CAUSE_OTHER:
        break;
    }
    return "other";
}

static double length_of(const struct night *night)
{
    return (double)(night->to_s - night->from_s);
}

const char *night_word(const struct night *night)
{
    const double enough_s = NIGHT_SEEN_SHARE * length_of(night);
    const double most_possible =
        units_known(night->possible_umol_m2) ? night->possible_umol_m2 : NIGHT_POSSIBLE_UMOL_M2;
    if (night->break_count + night->breaks_left_out > 0 ||
        (night->is_summary && night->longest_s >= 10)) {
        return "broken";
    }
    if (most_possible >= NIGHT_POSSIBLE_UMOL_M2) {
        return "possible";
    }
    if (night->recorded_s < enough_s) {
        return "unrecorded";
    }
    if (night->under_sky) {
        return "unlit";
    }
    return night->seen_s < enough_s ? "unseen" : "dark";
}

static void say_span(const struct night *night, int32_t offset_s, FILE *out)
{
    char from[12];
    char to[12];
    char length[24];
    const bool is_before = !night->is_from_seen && !night->is_cut;
    const bool is_on = !night->is_to_seen && !night->is_cut;
    report_time_of_day(night->from_s, offset_s, from, sizeof from);
    report_time_of_day(night->to_s, offset_s, to, sizeof to);
    parse_format_duration(length_of(night), length, sizeof length);
    (void)fprintf(out, "Night %s%s to %s%s (%s).", is_before ? "from before " : "", from,
                  night->is_cut && strcmp(to, "00:00") == 0 ? "24:00" : to, is_on ? " and on" : "",
                  length);
    if (night->open_from_s != 0) {
        report_time_of_day(night->open_from_s, offset_s, from, sizeof from);
        report_time_of_day(night->open_to_s, offset_s, to, sizeof to);
        (void)fprintf(out, " Switches open from %s%s%s.", from, night->open_to_s ? " to " : " on",
                      night->open_to_s ? to : "");
    }
}

static void say_light(const struct night *night, FILE *out)
{
    char length[24];
    const int breaks = night->break_count + night->breaks_left_out;
    if (breaks > 0) {
        (void)fprintf(out, " Broken %d time%s:", breaks, breaks == 1 ? "" : "s");
    } else if (night->dose_umol_m2 > 0) {
        (void)fprintf(out, " Light too short to count as a break:");
    }
    if (units_known(night->longest_s) && night->longest_s > 0) {
        parse_format_duration(night->longest_s, length, sizeof length);
        (void)fprintf(out, " longest light %s%s", length, night->dose_umol_m2 > 0 ? "," : ".");
    }
    if (night->dose_umol_m2 > 0) {
        (void)fprintf(out, " dose %.0f µmol m⁻².", night->dose_umol_m2);
    } else if (!units_known(night->dose_umol_m2)) {
        (void)fprintf(out, " Dose at most %.0f µmol m⁻² (the sum of its light days).",
                      night->most_umol_m2);
    }
}

static void say_unknown(const struct night *night, FILE *out)
{
    char length[24];
    const double blind_s = night->recorded_s - night->seen_s;
    const double hole_s = length_of(night) - night->recorded_s;
    if (night->possible_umol_m2 >= NIGHT_POSSIBLE_UMOL_M2) {
        (void)fprintf(out, " An opening was not confirmed: up to %.0f µmol m⁻² more by it.",
                      night->possible_umol_m2);
    } else if (!units_known(night->possible_umol_m2)) {
        (void)fprintf(out, " An opening near it was not confirmed.");
    }
    if (night->is_summary) {
        (void)fprintf(out, " Its minutes are not kept any more.");
        return;
    }
    if (hole_s >= 60) {
        parse_format_duration(hole_s, length, sizeof length);
        (void)fprintf(out, " Nothing is recorded of %s.", length);
    }
    if (blind_s >= 60 && night->seen_s < 60) {
        (void)fprintf(out, " No sensor showed the light.");
    } else if (blind_s >= 60) {
        parse_format_duration(blind_s, length, sizeof length);
        (void)fprintf(out, " No sensor showed the light for %s.", length);
    }
    if (night->under_sky) {
        (void)fprintf(out, " The sensor sees the sky too: only the lamps were watched.");
    }
}

void night_text(const struct night *night, int32_t offset_s, char *buffer, size_t size)
{
    buffer[0] = '\0';
    FILE *out = fmemopen(buffer, size, "w");
    if (!out) {
        return; /* without memory there is nothing to say */
    }
    say_span(night, offset_s, out);
    if (strcmp(night_word(night), "dark") == 0 && night->dose_umol_m2 == 0) {
        (void)fputs(" No light was seen.", out);
    } else {
        say_light(night, out);
    }
    say_unknown(night, out);
    (void)fclose(out); /* what does not fit is cut */
    buffer[size - 1] = '\0';
}

void night_break_text(const struct night_break *its, int32_t offset_s, char *buffer, size_t size)
{
    char from[12];
    char to[12];
    char dose[48] = "";
    report_time_of_day(its->from_s, offset_s, from, sizeof from);
    report_time_of_day(its->to_s, offset_s, to, sizeof to);
    if (units_known(its->dose_umol_m2)) {
        (void)snprintf(dose, sizeof dose, ", dose %.0f µmol m⁻²", its->dose_umol_m2);
    }
    (void)snprintf(buffer, size, "%s%s%s: %.2f µmol m⁻² s⁻¹ when noticed%s; %s", from,
                   its->to_s ? " to " : ", no end told", its->to_s ? to : "", its->peak_umol, dose,
                   its->text);
}
