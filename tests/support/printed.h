/* SPDX-License-Identifier: Apache-2.0 */
/* What a verb prints. The test stands in for the client; an error of the verb fails the test. */
#ifndef LAMPWARDEN_PRINTED_H
#define LAMPWARDEN_PRINTED_H

struct verb;

void printed_run(const struct verb *verb); /* without options; must end well */
const char *printed_text(void);            /* of the last run, cut after 4095 bytes */

/* Fails the test, with the text, where the words are not in it; see wrapped.h. */
void printed_has(const char *words);

#endif
