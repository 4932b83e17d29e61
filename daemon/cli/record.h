/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A fixture record by itself. It is a part of a fixture's group, and is read by the configuration's
 * own reader, as the fixture of a configuration made for it: what the daemon would refuse is
 * refused here, with the same words.
 */
#ifndef LAMPWARDEN_RECORD_H
#define LAMPWARDEN_RECORD_H

#include "config.h"

#define RECORD_FIXTURE "lamp"

/* The configuration has one fixture, RECORD_FIXTURE, which is the record's. As config_load_text;
 * *ret and the report, which names the reason in every failure, are the caller's. A file that
 * cannot be opened, or that no @include could name: -EINVAL. */
int record_load(const char *path, struct config **ret, struct config_report *ret_report);

#endif
