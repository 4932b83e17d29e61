/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Text in UTF-8 (RFC 3629): where a character ends, and how wide a text is on a terminal. JSON, SVG
 * and terminals choke on bytes that are none, so whoever hands on a stranger's text looks here.
 */
#ifndef LAMPWARDEN_UTF8_H
#define LAMPWARDEN_UTF8_H

#include <stddef.h>

/* Bytes of the well-formed sequence that begins here, of at most `room` (≥ 1); 0: none does. Looks
 * behind a byte only when that one allows it: with SIZE_MAX a text may end with its zero byte. */
size_t utf8_sequence(const char *at, size_t room);

/* Characters in so many bytes: as many columns as a terminal takes for the letters that we use. */
int utf8_columns(const char *text, size_t bytes);

#endif
