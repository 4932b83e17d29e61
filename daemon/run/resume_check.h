/* SPDX-License-Identifier: Apache-2.0 */
/* Ranges of a saved state. */
#ifndef LAMPWARDEN_RESUME_CHECK_H
#define LAMPWARDEN_RESUME_CHECK_H

#include "resume.h"

/* 0, or -EILSEQ with the field, its value and its range. fixture_count must be sane. */
int resume_check(const struct resume_record *record, struct err *err);

#endif
