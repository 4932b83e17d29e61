/* SPDX-License-Identifier: Apache-2.0 */
#include "control_proto.h"

#include "err.h"
#include "utf8.h"

#include <errno.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

/* The parser recurses: nesting is counted before it sees the text. */
static bool is_too_deep(const char *line, size_t size)
{
    int depth = 0;
    bool in_string = false;
    for (size_t i = 0; i < size; i++) {
        char one = line[i];
        if (in_string) {
            i += one == '\\';
            in_string = one != '"';
        } else if (one == '"') {
            in_string = true;
        } else if (one == '{' || one == '[') {
            if (++depth > CONTROL_DEPTH_MAX) {
                return true;
            }
        } else if (one == '}' || one == ']') {
            depth--;
        }
    }
    return false;
}

static enum control_code check(struct control_call *call, struct err *err)
{
    const json_t *version = json_object_get(call->root, "jsonrpc");
    json_t *method = json_object_get(call->root, "method");
    json_t *params = json_object_get(call->root, "params");
    json_t *id = json_object_get(call->root, "id");
    if (id && (json_is_string(id) || json_is_number(id) || json_is_null(id))) {
        call->id = id;
    } else if (id) {
        (void)err_fail(err, EINVAL, "id is neither a text nor a number");
        return CONTROL_INVALID_REQUEST;
    }
    if (!json_is_string(version) || strcmp(json_string_value(version), "2.0") != 0) {
        (void)err_fail(err, EINVAL, "jsonrpc must be \"2.0\"");
        return CONTROL_INVALID_REQUEST;
    }
    if (!json_is_string(method)) {
        (void)err_fail(err, EINVAL, "method must be a text");
        return CONTROL_INVALID_REQUEST;
    }
    if (params && !json_is_object(params)) {
        (void)err_fail(err, EINVAL, "params must be an object");
        return CONTROL_INVALID_PARAMS;
    }
    call->method = json_string_value(method);
    call->params = params;
    return CONTROL_OK;
}

enum control_code control_parse(const char *line, size_t size, struct control_call *ret,
                                struct err *err)
{
    *ret = (struct control_call){0};
    if (size > CONTROL_LINE_MAX || is_too_deep(line, size)) {
        (void)err_fail(err, EINVAL, "a request has at most %d bytes and %d levels",
                       CONTROL_LINE_MAX, CONTROL_DEPTH_MAX);
        return CONTROL_PARSE_ERROR;
    }
    json_error_t trouble;
    ret->root = json_loadb(line, size, JSON_REJECT_DUPLICATES, &trouble);
    if (!ret->root) {
        (void)err_fail(err, EINVAL, "not JSON at byte %d: %s", trouble.position, trouble.text);
        return CONTROL_PARSE_ERROR;
    }
    if (!json_is_object(ret->root)) {
        (void)err_fail(err, EINVAL, "a request is one object; batches are not taken");
        return CONTROL_INVALID_REQUEST;
    }
    return check(ret, err);
}

void control_call_finish(struct control_call *call)
{
    json_decref(call->root);
    *call = (struct control_call){0};
}

/* Takes over member. */
static char *reply(const json_t *id, const char *name, json_t *member)
{
    json_t *root = json_object();
    char *text = NULL;
    json_t *its_id = id ? json_deep_copy(id) : json_null();
    bool is_whole = root && member && json_object_set_new(root, "jsonrpc", json_string("2.0")) == 0;
    is_whole = json_object_set_new(root, "id", its_id) == 0 && is_whole;
    is_whole = json_object_set_new(root, name, member) == 0 && is_whole;
    if (is_whole) {
        text = json_dumps(root, JSON_COMPACT | JSON_REAL_PRECISION(9));
    }
    json_decref(root);
    return text;
}

char *control_result(const json_t *id, json_t *result)
{
    return reply(id, "result", result);
}

json_t *control_text(const char *text)
{
    json_t *string = json_string(text);
    if (string || !text) {
        return string;
    }
    char clean[CONTROL_TEXT_MAX];
    size_t used = 0;
    while (*text && used + 4 < sizeof clean) {
        size_t size = utf8_sequence(text, SIZE_MAX);
        if (size == 0) {
            clean[used++] = '?';
            text++;
        } else {
            memcpy(clean + used, text, size);
            used += size;
            text += size;
        }
    }
    return json_stringn(clean, used);
}

json_t *control_real(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

char *control_error(const json_t *id, enum control_code code, const char *sentence)
{
    return reply(id, "error",
                 json_pack("{s:i,s:o}", "code", (int)code, "message", control_text(sentence)));
}

char *control_request(const char *method, json_t *params)
{
    json_t *root = json_pack("{s:s,s:i,s:s}", "jsonrpc", "2.0", "id", 1, "method", method);
    if (root && params) {
        json_object_set(root, "params", params);
    }
    json_decref(params);
    char *text = root ? json_dumps(root, JSON_COMPACT) : NULL;
    json_decref(root);
    size_t length = text ? strlen(text) : 0;
    char *line = text ? realloc(text, length + 2) : NULL;
    if (!line) {
        free(text);
        return NULL;
    }
    line[length] = '\n';
    line[length + 1] = '\0';
    return line;
}

int control_answer(const char *line, size_t size, json_t **ret_result, struct err *err)
{
    json_error_t trouble;
    json_t *root = json_loadb(line, size, 0, &trouble);
    json_t *result = json_object_get(root, "result");
    const json_t *error = json_object_get(root, "error");
    const json_t *message = json_object_get(error, "message");
    const bool is_busy = json_integer_value(json_object_get(error, "code")) == CONTROL_BUSY;
    int code = 0;
    if (result) {
        *ret_result = json_incref(result);
    } else if (json_is_string(message)) {
        code = err_fail(err, is_busy ? EAGAIN : EREMOTEIO, "%s", json_string_value(message));
    } else {
        code = err_fail(err, EPROTO, "the daemon's answer is not one of this protocol");
    }
    json_decref(root);
    return code;
}
