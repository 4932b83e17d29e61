/* SPDX-License-Identifier: Apache-2.0 */
#include "printed.h"

#include "verb.h"
#include "wrapped.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <unistd.h>

#include <cmocka.h>

static char printed[4096];

int verb_fail(const char *verb, enum verb_exit code, const char *format, ...)
{
    fail_msg("%s: %s", verb, format);
    return (int)code;
}

int verb_usage(const char *verb, const char *format, ...)
{
    fail_msg("%s: %s", verb, format);
    return VERB_USAGE;
}

/* Stdout of the verb, through a file. */
void printed_run(const struct verb *verb)
{
    char name[16];
    char *argv[] = {name, NULL};
    (void)snprintf(name, sizeof name, "%s", verb->name);
    FILE *file = tmpfile();
    assert_non_null(file);
    (void)fflush(stdout);
    const int kept = dup(STDOUT_FILENO);
    assert_true(kept >= 0 && dup2(fileno(file), STDOUT_FILENO) >= 0);
    const int code = verb->run(1, argv);
    (void)fflush(stdout);
    assert_true(dup2(kept, STDOUT_FILENO) >= 0);
    (void)close(kept);
    assert_int_equal(code, VERB_OK);
    rewind(file);
    printed[fread(printed, 1, sizeof printed - 1, file)] = '\0';
    (void)fclose(file);
}

const char *printed_text(void)
{
    return printed;
}

void printed_has(const char *words)
{
    if (!wrapped_has(printed, words)) {
        fail_msg("no \"%s\" in:\n%s", words, printed);
    }
}
