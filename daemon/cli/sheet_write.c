/* SPDX-License-Identifier: Apache-2.0 */
/* The whole sheet, in the order in which somebody at the wall looks for things. */
#include "sheet_parts.h"

#include "err.h"
#include "parse.h"
#include "units.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

static const char style[] =
    ".kind{font-family:system-ui,'Segoe UI',Roboto,'Noto Sans','DejaVu Sans',sans-serif;"
    "font-size:.8rem;letter-spacing:.08em;text-transform:uppercase;margin:0}"
    ".place{margin:0 0 1rem;color:#333}"
    "header{border-bottom:2px solid #111;padding-bottom:.2rem}"
    "header+h2{border-top:0;margin-top:.8rem}"
    "ul{margin:.4rem 0;padding-left:1.1rem;max-width:46rem}"
    "li{margin:.15rem 0}"
    ".sign{display:grid;grid-template-columns:1.6fr 2fr 1fr;gap:1.5rem;margin-top:2.6rem;"
    "break-inside:avoid}"
    ".sign span{border-top:1px solid #111;padding-top:.2rem;font-size:.82rem;color:#333}"
    ".sign span:first-child{border:0;color:#111;font-weight:600;margin-top:-1.2rem}"
    "dl{grid-template-columns:11.5rem 1fr}"
    "figure svg{width:auto;max-width:100%}"
    ".pair{display:grid;grid-template-columns:minmax(0,1fr) max-content;gap:1.6rem;"
    "align-items:start}"
    ".pair td,.pair th{padding-top:.08rem;padding-bottom:.08rem}"
    "@media(max-width:44rem){.pair{display:block}dl{display:block}dt{border:0}}"
    "@media print{table,ul{break-inside:avoid}.pair,.whole{break-inside:avoid}"
    "figure svg{max-height:105mm}.pair "
    "svg{max-height:125mm}.pair{gap:5mm}table,dl,figcaption{font-size:8.4pt}}"
    "@page{@bottom-right{content:counter(page) ' / ' counter(pages);font:8pt sans-serif}}";

/* Common practice, no source, apart from what the README tells more of. */
static const char *const cautions[] = {
    "Local code, the makers' instructions and a licensed electrician win over everything on this "
    "sheet. Mains wiring is the work of a licensed electrician.",
    "An open 0-10 V line means full light on the usual LED driver. \"0 %\" is not dark: only an "
    "open "
    "contact is.",
    "Isolate, lock out, prove dead before touching a fixture. Residual-current protection near "
    "water; drip loops; earthed heatsinks; a second safety tie.",
    "Do not look into the LEDs. Wear suitable glasses under narrow-band light. The lights may come "
    "on by themselves.",
    "Heatsinks burn. A thermal cut-out in hardware, independent of the program, belongs on each.",
    "Night work: minutes of light undo a short-day night, also a torch's. Look after things by "
    "day, and never hold a contact closed by hand.",
    "Measure again after a change of fixture, height, LED driver or sensor, and once a year.",
};

static void put_summary(const struct sheet *sheet, struct sheet_page *page)
{
    const struct space_rules *rules = &sheet->space->rules;
    const double full_umol = space_configured_umol(rules);
    double least_umol = 0;
    double full_w = 0;
    bool has_watts = true;
    for (int i = 0; i < rules->fixture_count; i++) {
        const struct fixture_rules *fixture = sheet_rules(sheet, i);
        least_umol += dimcurve_min_level(&fixture->curve) * fixture->full_umol;
        full_w += sheet_full_w(fixture);
        has_watts = has_watts && sheet_full_w(fixture) > 0;
    }
    sheet_page_heading(page, "At a glance");
    sheet_page_facts(page);
    sheet_page_fact(page, "Date", "%s", sheet->date[0] ? sheet->date : "not said (--date)");
    sheet_page_fact(page, "Fixtures", "%d", rules->fixture_count);
    sheet_page_fact(page, "Light at the canopy",
                    "%.0f µmol m⁻² s⁻¹ at full light, %.0f at the lowest level of all (%.0f %%)",
                    full_umol, least_umol, 100 * least_umol / full_umol);
    sheet_page_fact(page, "Drive ceilings leave", "%.0f %% of full light",
                    100 * efficacy_cap(rules));
    if (has_watts) {
        sheet_page_fact(page, "Power", "%.0f W at full light", full_w);
    } else {
        sheet_page_fact(page, "Power", "not measured");
    }
    if (sheet->hung >= 0) {
        sheet_page_fact(page, "Hanging height", "%g cm, minimum over mean %.2f",
                        sheet->survey.sorted[sheet->hung]->height_cm,
                        sheet->survey.stats[sheet->hung].min_over_mean);
    }
    sheet_page_fact(page, "Not measured", "%d %s", sheet->missing_count,
                    sheet->missing_count == 1 ? "thing, said below" : "things, listed below");
    sheet_page_facts_end(page);
}

static void put_missing(const struct sheet *sheet, struct sheet_page *page)
{
    sheet_page_heading(page, "Not measured");
    if (sheet->missing_count == 0) {
        sheet_page_say(page, "Nothing that this sheet knows of.");
        return;
    }
    sheet_page_list(page);
    for (int i = 0; i < sheet->missing_count; i++) {
        sheet_page_item(page, sheet->missing[i]);
    }
    sheet_page_list_end(page);
}

static void put_end(struct sheet_page *page)
{
    sheet_page_heading(page, "Cautions");
    sheet_page_list(page);
    for (size_t i = 0; i < sizeof cautions / sizeof cautions[0]; i++) {
        sheet_page_item(page, cautions[i]);
    }
    sheet_page_list_end(page);
    sheet_page_whole(page, "Signatures");
    sheet_page_signature(page, "Measured by");
    sheet_page_signature(page, "Electrical work by (licensed)");
    sheet_page_signature(page, "Taken over by");
    sheet_page_whole_end(page);
}

int sheet_write(FILE *out, const struct sheet *sheet, bool is_html, struct err *err)
{
    struct sheet_page *page = calloc(1, sizeof *page);
    char title[96];
    if (!page) {
        return err_fail(err, ENOMEM, "no memory for the sheet");
    }
    (void)snprintf(title, sizeof title, "Commissioning sheet: %s", sheet->space->name);
    sheet_page_begin(page, out, is_html, title, style);
    sheet_page_head(page, "Commissioning sheet", sheet->space->name, sheet->config->site.name);
    put_summary(sheet, page);
    sheet_put_light(sheet, page);
    for (int i = 0; i < sheet->space->rules.fixture_count; i++) {
        sheet_put_fixture(sheet, page, i);
    }
    sheet_put_power(sheet, page);
    sheet_put_mains(sheet, page);
    put_missing(sheet, page);
    put_end(page);
    sheet_page_end(page);
    free(page);
    return 0;
}
