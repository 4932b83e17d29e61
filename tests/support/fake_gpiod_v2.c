/* SPDX-License-Identifier: Apache-2.0 */
/* libgpiod 2 as its header documents it and the kernel's second interface has it; see
 * fake_gpiod.h. Objects are copies: what is not freed shows as a leak. */
#include "fake_gpiod_model.h"

#include <errno.h>
#include <gpiod.h>
#include <stdlib.h>
#include <string.h>

struct gpiod_chip {
    struct fake_chip *model;
};

struct gpiod_chip_info {
    char name[FAKE_NAME_SIZE], label[FAKE_NAME_SIZE];
    size_t line_count;
};

struct gpiod_line_info {
    char name[FAKE_NAME_SIZE], consumer[FAKE_NAME_SIZE];
};

struct gpiod_line_settings {
    enum gpiod_line_direction direction;
    enum gpiod_line_value value;
    bool is_active_low;
};

struct gpiod_line_config {
    unsigned offsets[FAKE_REQUEST_MAX];
    struct gpiod_line_settings settings[FAKE_REQUEST_MAX];
    unsigned count;
};

struct gpiod_request_config {
    char consumer[FAKE_NAME_SIZE];
};

struct gpiod_line_request { /* lives on without its chip, as its descriptor does */
    struct fake_chip *model;
    int handle;
};

/* --- chips and what is known of them ------------------------------------------------------- */

struct gpiod_chip *gpiod_chip_open(const char *path)
{
    struct fake_chip *model = fake_open(path);
    struct gpiod_chip *chip = model ? calloc(1, sizeof *chip) : NULL;
    if (chip) {
        chip->model = model;
    }
    return chip;
}

void gpiod_chip_close(struct gpiod_chip *chip)
{
    fake_close();
    free(chip);
}

/* NULL and errno for a chip that is gone. */
static void *new_info(const struct gpiod_chip *chip, size_t size)
{
    if (chip->model->is_gone) {
        errno = ENODEV;
        return NULL;
    }
    return calloc(1, size);
}

struct gpiod_chip_info *gpiod_chip_get_info(struct gpiod_chip *chip)
{
    struct gpiod_chip_info *info = new_info(chip, sizeof *info);
    if (info) {
        memcpy(info->name, chip->model->device, sizeof info->name);
        memcpy(info->label, chip->model->label, sizeof info->label);
        info->line_count = chip->model->pin_count;
    }
    return info;
}

void gpiod_chip_info_free(struct gpiod_chip_info *info)
{
    free(info);
}

const char *gpiod_chip_info_get_name(struct gpiod_chip_info *info)
{
    return info->name;
}

const char *gpiod_chip_info_get_label(struct gpiod_chip_info *info)
{
    return info->label;
}

size_t gpiod_chip_info_get_num_lines(struct gpiod_chip_info *info)
{
    return info->line_count;
}

struct gpiod_line_info *gpiod_chip_get_line_info(struct gpiod_chip *chip, unsigned int offset)
{
    if (!chip->model->is_gone && offset >= chip->model->pin_count) {
        errno = EINVAL;
        return NULL;
    }
    struct gpiod_line_info *info = new_info(chip, sizeof *info);
    if (info) {
        memcpy(info->name, chip->model->pins[offset].name, sizeof info->name);
        memcpy(info->consumer, chip->model->pins[offset].consumer, sizeof info->consumer);
    }
    return info;
}

void gpiod_line_info_free(struct gpiod_line_info *info)
{
    free(info);
}

const char *gpiod_line_info_get_name(struct gpiod_line_info *info)
{
    return info->name[0] ? info->name : NULL;
}

const char *gpiod_line_info_get_consumer(struct gpiod_line_info *info)
{
    return info->consumer[0] ? info->consumer : NULL;
}

/* --- what a request is made of ------------------------------------------------------------- */

struct gpiod_line_settings *gpiod_line_settings_new(void)
{
    struct gpiod_line_settings *settings = calloc(1, sizeof *settings);
    if (settings) {
        settings->direction = GPIOD_LINE_DIRECTION_AS_IS;
    }
    return settings;
}

void gpiod_line_settings_free(struct gpiod_line_settings *settings)
{
    free(settings);
}

int gpiod_line_settings_set_direction(struct gpiod_line_settings *settings,
                                      enum gpiod_line_direction direction)
{
    settings->direction = direction;
    return 0;
}

void gpiod_line_settings_set_active_low(struct gpiod_line_settings *settings, bool active_low)
{
    settings->is_active_low = active_low;
}

int gpiod_line_settings_set_output_value(struct gpiod_line_settings *settings,
                                         enum gpiod_line_value value)
{
    settings->value = value;
    return 0;
}

struct gpiod_line_config *gpiod_line_config_new(void)
{
    return calloc(1, sizeof(struct gpiod_line_config));
}

void gpiod_line_config_free(struct gpiod_line_config *config)
{
    free(config);
}

int gpiod_line_config_add_line_settings(struct gpiod_line_config *config,
                                        const unsigned int *offsets, size_t num_offsets,
                                        struct gpiod_line_settings *settings)
{
    if (config->count + num_offsets > FAKE_REQUEST_MAX) {
        return fake_fail(E2BIG);
    }
    for (size_t i = 0; i < num_offsets; i++) {
        config->offsets[config->count] = offsets[i];
        config->settings[config->count++] = *settings;
    }
    return 0;
}

struct gpiod_request_config *gpiod_request_config_new(void)
{
    return calloc(1, sizeof(struct gpiod_request_config));
}

void gpiod_request_config_free(struct gpiod_request_config *config)
{
    free(config);
}

void gpiod_request_config_set_consumer(struct gpiod_request_config *config, const char *consumer)
{
    strncpy(config->consumer, consumer, sizeof config->consumer - 1);
}

/* --- requests ------------------------------------------------------------------------------ */

struct gpiod_line_request *gpiod_chip_request_lines(struct gpiod_chip *chip,
                                                    struct gpiod_request_config *req_cfg,
                                                    struct gpiod_line_config *line_cfg)
{
    struct fake_request hold = {.count = line_cfg->count, .consumer = req_cfg->consumer};
    for (unsigned i = 0; i < line_cfg->count; i++) {
        const struct gpiod_line_settings *settings = &line_cfg->settings[i];
        if (settings->direction != GPIOD_LINE_DIRECTION_OUTPUT ||
            settings->is_active_low != line_cfg->settings[0].is_active_low) {
            abort(); /* the model has outputs of one polarity only */
        }
        hold.offsets[i] = line_cfg->offsets[i];
        hold.values[i] = settings->value == GPIOD_LINE_VALUE_ACTIVE;
        hold.is_active_low = settings->is_active_low;
    }
    int handle = fake_hold(chip->model, &hold);
    struct gpiod_line_request *request = handle > 0 ? calloc(1, sizeof *request) : NULL;
    if (request) {
        request->model = chip->model;
        request->handle = handle;
    }
    return request;
}

void gpiod_line_request_release(struct gpiod_line_request *request)
{
    fake_release(request->model, request->handle);
    free(request);
}

/* The pin of a request by its offset; NULL and errno. */
static struct fake_pin *ask_pin(const struct gpiod_line_request *request, unsigned offset,
                                int error)
{
    struct fake_chip *model = request->model;
    bool is_ours = offset < model->pin_count && model->pins[offset].handle == request->handle;
    if (model->is_gone || !is_ours || error) {
        errno = model->is_gone ? ENODEV : !is_ours ? EINVAL : error;
        return NULL;
    }
    return &model->pins[offset];
}

int gpiod_line_request_set_value(struct gpiod_line_request *request, unsigned int offset,
                                 enum gpiod_line_value value)
{
    struct fake_pin *pin = ask_pin(request, offset, request->model->set_error);
    if (pin) {
        fake_drive(pin, value == GPIOD_LINE_VALUE_ACTIVE);
    }
    return pin ? 0 : -1;
}

enum gpiod_line_value gpiod_line_request_get_value(struct gpiod_line_request *request,
                                                   unsigned int offset)
{
    const struct fake_pin *pin = ask_pin(request, offset, request->model->get_error);
    if (!pin) {
        return GPIOD_LINE_VALUE_ERROR;
    }
    return fake_level(pin) ? GPIOD_LINE_VALUE_ACTIVE : GPIOD_LINE_VALUE_INACTIVE;
}
