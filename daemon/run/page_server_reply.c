/* SPDX-License-Identifier: Apache-2.0 */
#include "page_server_reply.h"

#include "clock.h"
#include "log.h"

#include <microhttpd.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

void page_reply_headers(struct MHD_Response *response, const char *type, bool may_keep)
{
    static const char *const always[][2] = {
        {"Content-Security-Policy",
         "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
         "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"},
        {"X-Content-Type-Options", "nosniff"},
        {"Referrer-Policy", "no-referrer"},
        {"Cross-Origin-Resource-Policy", "same-origin"},
    };
    for (size_t i = 0; i < sizeof always / sizeof always[0]; i++) {
        (void)MHD_add_response_header(response, always[i][0], always[i][1]);
    }
    (void)MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, type);
    (void)MHD_add_response_header(response, MHD_HTTP_HEADER_CACHE_CONTROL,
                                  may_keep ? "no-cache" : "no-store");
}

/* What only one status needs. */
static void add_status_header(struct MHD_Response *response, int status)
{
    switch (status) {
    case MHD_HTTP_UNAUTHORIZED:
        (void)MHD_add_response_header(response, MHD_HTTP_HEADER_WWW_AUTHENTICATE,
                                      "Basic realm=\"Lampwarden\", charset=\"UTF-8\"");
        break;
    case MHD_HTTP_METHOD_NOT_ALLOWED:
        (void)MHD_add_response_header(response, MHD_HTTP_HEADER_ALLOW, "GET, HEAD");
        break;
    case MHD_HTTP_TOO_MANY_REQUESTS:
        (void)MHD_add_response_header(response, MHD_HTTP_HEADER_RETRY_AFTER, "60");
        break;
    case MHD_HTTP_SERVICE_UNAVAILABLE:
        (void)MHD_add_response_header(response, MHD_HTTP_HEADER_RETRY_AFTER, "5");
        break;
    default:
        break;
    }
}

bool page_reply(struct MHD_Connection *connection, struct page_answer *answer)
{
    const char *kept =
        MHD_lookup_connection_value(connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_IF_NONE_MATCH);
    if (answer->tag && kept && strstr(kept, answer->tag)) {
        answer->status = MHD_HTTP_NOT_MODIFIED;
        answer->size = 0;
    }
    struct MHD_Response *response = MHD_create_response_from_buffer(
        answer->size, (void *)answer->text, /* it is not written to */
        answer->owned ? MHD_RESPMEM_MUST_FREE : MHD_RESPMEM_PERSISTENT);
    if (!response) {
        free(answer->owned);
        return false;
    }
    page_reply_headers(response, answer->type, answer->tag != NULL);
    add_status_header(response, answer->status);
    if (answer->tag) {
        (void)MHD_add_response_header(response, MHD_HTTP_HEADER_ETAG, answer->tag);
    }
    const enum MHD_Result result =
        MHD_queue_response(connection, (unsigned)answer->status, response);
    MHD_destroy_response(response);
    return result == MHD_YES;
}

bool page_reply_refusal(struct MHD_Connection *connection, const struct page_request *request,
                        int status, const char *sentence)
{
    struct page_answer answer;
    page_refuse(request, status, sentence, &answer);
    return page_reply(connection, &answer);
}

static bool has_body(struct MHD_Connection *connection)
{
    const char *length =
        MHD_lookup_connection_value(connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_CONTENT_LENGTH);
    return (length && strcmp(length, "0") != 0) ||
           MHD_lookup_connection_value(connection, MHD_HEADER_KIND,
                                       MHD_HTTP_HEADER_TRANSFER_ENCODING);
}

static int refuse_password(struct page_door *door, const char *password, const char **ret_sentence)
{
    if (password && !page_tries_are_left(&door->tries, clock_real_ns())) {
        *ret_sentence = "too many wrong passwords; none is looked at until the minute is over";
        return MHD_HTTP_TOO_MANY_REQUESTS;
    }
    if (page_secret_fits(&door->secret, password)) {
        return 0;
    }
    if (password && page_tries_note(&door->tries)) {
        log_warning("page: %d wrong passwords within a minute; none is looked at until it is over",
                    PAGE_TRIES_MAX);
    }
    *ret_sentence = "the page asks for a name and a password";
    return MHD_HTTP_UNAUTHORIZED;
}

int page_reply_stranger(struct MHD_Connection *connection, struct page_door *door,
                        const char *method, const char **ret_sentence)
{
    const char *host =
        MHD_lookup_connection_value(connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_HOST);
    const char *password =
        MHD_lookup_connection_value(connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_AUTHORIZATION);
    if (!page_host_is_ours(&door->config, host)) {
        *ret_sentence = "this computer is not known by that name; page.host_names lists the names "
                        "that it answers to";
        return MHD_HTTP_MISDIRECTED_REQUEST;
    }
    const int refused = refuse_password(door, password, ret_sentence);
    if (refused != 0) {
        return refused;
    }
    if (strcmp(method, MHD_HTTP_METHOD_GET) != 0 && strcmp(method, MHD_HTTP_METHOD_HEAD) != 0) {
        *ret_sentence = "the page is for reading only: GET and HEAD";
        return MHD_HTTP_METHOD_NOT_ALLOWED;
    }
    if (has_body(connection)) {
        *ret_sentence = "a question to the page has no body";
        return MHD_HTTP_CONTENT_TOO_LARGE;
    }
    return 0;
}
