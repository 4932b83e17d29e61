/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What only a driver can say of its options: every bus is built with its points and taken apart
 * again. `create` and `add_…` touch no hardware by their contract, so this is safe beside a running
 * daemon.
 */
#include "config_build.h"

#include "config_section.h"
#include "err.h"
#include "findings.h"

static void try_points(const struct config *config, int index, struct bus *bus,
                       struct findings *findings)
{
    const struct driver *driver = config->buses[index].driver;
    for (int i = 0; i < config->sensor_count; i++) {
        const struct config_sensor *sensor = &config->sensors[i];
        struct err err = {""};
        if (sensor->bus == index &&
            driver->add_sensor(bus, sensor->kind, sensor->options, &err) < 0) {
            findings_error(findings, sensor->line, "sensors[%d]: %s", i, err.text);
        }
    }
    for (int i = 0; i < config->output_count; i++) {
        const struct config_output *output = &config->outputs[i];
        struct err err = {""};
        if (output->bus == index &&
            driver->add_output(bus, output->kind, output->options, &err) < 0) {
            findings_error(findings, output->line, "outputs[%d]: %s", i, err.text);
        }
    }
}

void config_try_drivers(const struct section *root, const struct config *config,
                        struct findings *findings)
{
    for (int i = 0; i < config->bus_count; i++) {
        const struct config_bus *bus = &config->buses[i];
        struct bus *built = NULL;
        struct err err = {""};
        if (bus->driver->create(bus->options, &built, &err) < 0) {
            findings_error(findings, root->values[ROOT_BUSES].sections[i].line, "buses[%d]: %s", i,
                           err.text);
            continue;
        }
        try_points(config, i, built, findings);
        bus->driver->destroy(built);
    }
}
