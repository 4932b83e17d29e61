/* SPDX-License-Identifier: Apache-2.0 */
/* From checked sections to the configuration that the daemon runs on. */
#ifndef LAMPWARDEN_CONFIG_BUILD_H
#define LAMPWARDEN_CONFIG_BUILD_H

#include "config.h"

struct arena;
struct findings;
struct section;

/* Fills a field of a checked length; a longer text is cut. */
void build_text(char *field, size_t size, const char *text);

/* Sections without findings only. False: no memory. */
bool build_config(const struct section *root, struct arena *arena, struct config *ret);

/* What a kWh costs, with the files that it needs: config_tariff.c. Before build_config, with
 * findings of its own. False: no memory. */
bool build_tariff(const struct section *root, const char *config_file, struct arena *arena,
                  struct findings *findings, struct tariff *ret);

/* The supply that all lamps share: config_power.c. */
void build_power(const struct section *site, struct power_limit *ret);

/* The page for a browser: config_page.c. */
void build_page(const struct section *page, struct config_page *ret);

/* Commands that are run for events: config_alarm.c. */
bool build_alarms(const struct section *alarm, struct arena *arena, struct config *config);

/* Fixtures, stages and spaces: config_build_space.c, after buses, sensors and outputs. */
bool build_lamps(const struct section *root, struct arena *arena, struct config *config);
bool build_spaces(const struct section *root, struct arena *arena, struct config *config);

/* What a fixture's record says beside that: config_measured.c. */
bool build_measured(const struct section *fixture, struct arena *arena, struct measured *ret);

/* What only the drivers can say of their options: config_trial.c. */
void config_try_drivers(const struct section *root, const struct config *config,
                        struct findings *findings);

/* What loads and works, but is probably not meant: config_warn.c. */
void config_warn(const struct section *root, const struct config *config,
                 struct findings *findings);
/* … of targets that lamps and sun cannot meet: config_warn_reach.c. */
void config_warn_reach(const struct section *root, const struct config *config,
                       struct findings *findings);
/* … of the supply that all lamps share: config_power.c. */
void config_warn_power(const struct section *root, const struct config *config,
                       struct findings *findings);
/* … of a page that this program cannot show: config_page.c. */
void config_warn_page(const struct section *root, struct findings *findings);
/* … of commands that are not there: config_alarm.c. */
void config_warn_alarm(const struct section *root, const struct config *config,
                       struct findings *findings);
/* … in the settings of the drivers: config_warn_points.c. */
void config_warn_points(const struct section *root, struct findings *findings);
/* For those: lamp light of all fixtures at their drive ceilings. */
double config_lamps_umol(const struct space_rules *rules);

#endif
