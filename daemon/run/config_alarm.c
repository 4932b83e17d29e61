/* SPDX-License-Identifier: Apache-2.0 */
/* Commands that are run for events: checks of what one value cannot show, and their build. */
#include "config_build.h"

#include "announce.h"
#include "arena.h"
#include "config_check.h"
#include "findings.h"
#include "parse.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

static void check_command(const struct section *its, int index, struct findings *findings)
{
    const struct value *command = &its->values[ALARM_COMMAND];
    char quoted[64];
    if (section_is_usable(its, ALARM_COMMAND) && command->items[0].text[0] != '/') {
        parse_quote(command->items[0].text, quoted, sizeof quoted);
        findings_error(findings, command->line,
                       "alarm.commands[%d].command: \"%s\" is no whole path: it begins with a /, "
                       "no shell looks for it",
                       index, quoted);
    }
}

static void check_kinds(const struct section *its, int index, struct findings *findings)
{
    const struct value *kinds = &its->values[ALARM_KINDS];
    char quoted[64];
    for (int i = 0; section_is_usable(its, ALARM_KINDS) && i < kinds->count; i++) {
        const char *word = kinds->items[i].text;
        if (announce_knows_kind(word)) {
            continue;
        }
        const char *near = value_nearest(announce_kinds(), word);
        parse_quote(word, quoted, sizeof quoted);
        findings_error(findings, kinds->line,
                       "alarm.commands[%d].kinds: there is no event \"%s\"%s%s%s", index, quoted,
                       near ? ", did you mean \"" : "", near ? near : "", near ? "\"?" : "");
    }
}

void check_alarm(const struct section *alarm, struct findings *findings)
{
    const struct value *list = &alarm->values[ALARM_COMMANDS];
    for (int i = 0; i < list->count; i++) {
        const struct section *its = &list->sections[i];
        check_command(its, i, findings);
        check_kinds(its, i, findings);
        for (int k = 0; section_is_usable(its, ALARM_NAME) && k < i; k++) {
            if (strcmp(section_text(its, ALARM_NAME),
                       section_text(&list->sections[k], ALARM_NAME)) == 0) {
                findings_error(findings, its->values[ALARM_NAME].line,
                               "alarm.commands[%d].name: \"%s\" is also the name of "
                               "alarm.commands[%d]",
                               i, section_text(its, ALARM_NAME), k);
            }
        }
    }
}

static bool build_command(const struct section *its, struct arena *arena, struct config_alarm *ret)
{
    const struct value *command = &its->values[ALARM_COMMAND];
    const struct value *kinds = &its->values[ALARM_KINDS];
    const char **words = arena_take(arena, (size_t)command->count + 1, sizeof *words);
    const char **names = arena_take(arena, (size_t)kinds->count + 1, sizeof *names);
    if (!words || !names) {
        return false;
    }
    for (int i = 0; i < command->count; i++) {
        words[i] = command->items[i].text;
    }
    for (int i = 0; i < kinds->count; i++) {
        names[i] = kinds->items[i].text;
    }
    build_text(ret->name, sizeof ret->name, section_text(its, ALARM_NAME));
    ret->command = words;
    ret->kinds = names;
    ret->class = (enum journal_class)section_integer(its, ALARM_CLASS);
    ret->per_hour = (int)section_integer(its, ALARM_PER_HOUR);
    ret->limit_s = section_real(its, ALARM_TIME_LIMIT);
    return true;
}

bool build_alarms(const struct section *alarm, struct arena *arena, struct config *config)
{
    const struct value *list = &alarm->values[ALARM_COMMANDS];
    config->alarms = arena_take(arena, (size_t)list->count, sizeof *config->alarms);
    config->alarm_count = list->count;
    for (int i = 0; config->alarms && i < list->count; i++) {
        if (!build_command(&list->sections[i], arena, &config->alarms[i])) {
            return false;
        }
    }
    return config->alarms != NULL;
}

void config_warn_alarm(const struct section *root, const struct config *config,
                       struct findings *findings)
{
    const struct value *list = &section_group(root, ROOT_ALARM)->values[ALARM_COMMANDS];
    for (int i = 0; i < config->alarm_count; i++) {
        const char *program = config->alarms[i].command[0];
        if (access(program, X_OK) != 0) {
            char quoted[128];
            parse_quote(program, quoted, sizeof quoted);
            findings_warning(findings, list->sections[i].values[ALARM_COMMAND].line,
                             "alarm.commands[%d].command: %s %s here", i, quoted,
                             access(program, F_OK) == 0 ? "cannot be run" : "does not exist");
        }
    }
}
