/* SPDX-License-Identifier: Apache-2.0 */
#include "page_live.h"

#include "clock.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const int64_t comment_ns = 15 * CLOCK_NS_PER_S;
static const int64_t life_ns = 600 * CLOCK_NS_PER_S;

struct page_live_text {
    int holders;
    size_t size;
    char bytes[];
};

static struct page_live_text *text_create(const char *before, const char *text, const char *after)
{
    const size_t size = strlen(before) + strlen(text) + strlen(after);
    struct page_live_text *made = malloc(sizeof *made + size + 1);
    if (made) {
        made->holders = 1;
        made->size = size;
        (void)snprintf(made->bytes, size + 1, "%s%s%s", before, text, after);
    }
    return made;
}

static void text_release(struct page_live_text *text)
{
    if (text && --text->holders == 0) {
        free(text);
    }
}

bool page_live_show(struct page_live *live, const char *text)
{
    struct page_live_text *made = text_create("event: status\ndata: ", text, "\n\n");
    if (!made) {
        return false;
    }
    text_release(live->newest);
    live->newest = made;
    live->number++;
    return true;
}

void page_live_finish(struct page_live *live)
{
    text_release(live->newest);
    live->newest = NULL;
}

int page_live_join(struct page_live *live, void *peer, int64_t now_ns)
{
    for (int i = 0; i < PAGE_LIVE_CLIENTS && !live->is_closing; i++) {
        struct page_live_client *client = &live->clients[i];
        if (!client->is_open) {
            *client = (struct page_live_client){.is_open = true,
                                                .peer = peer,
                                                .sending = text_create("retry: 5000\n\n", "", ""),
                                                .begun_ns = now_ns,
                                                .spoke_ns = now_ns};
            return i;
        }
    }
    return -1;
}

void page_live_leave(struct page_live *live, int index)
{
    text_release(live->clients[index].sending);
    live->clients[index] = (struct page_live_client){.is_open = false};
}

bool page_live_is_empty(const struct page_live *live)
{
    for (int i = 0; i < PAGE_LIVE_CLIENTS; i++) {
        if (live->clients[i].is_open) {
            return false;
        }
    }
    return true;
}

static bool is_over(const struct page_live *live, const struct page_live_client *client,
                    int64_t now_ns)
{
    return live->is_closing || now_ns - client->begun_ns >= life_ns;
}

/* What comes next, where nothing is half sent. NULL: nothing. */
static struct page_live_text *next_text(const struct page_live *live,
                                        struct page_live_client *client, int64_t now_ns)
{
    if (live->newest && client->number != live->number) {
        client->number = live->number;
        live->newest->holders++;
        return live->newest;
    }
    return now_ns - client->spoke_ns >= comment_ns ? text_create(": still here\n\n", "", "") : NULL;
}

ssize_t page_live_read(struct page_live *live, int index, char *buffer, size_t size, int64_t now_ns)
{
    struct page_live_client *client = &live->clients[index];
    client->is_waiting = false;
    if (!client->sending && is_over(live, client, now_ns)) {
        return PAGE_LIVE_END;
    }
    if (!client->sending) {
        client->sending = next_text(live, client, now_ns);
        client->sent = 0;
    }
    if (!client->sending) {
        client->is_waiting = true;
        return 0;
    }
    const size_t left = client->sending->size - client->sent;
    const size_t taken = left < size ? left : size;
    memcpy(buffer, client->sending->bytes + client->sent, taken);
    client->sent += taken;
    client->spoke_ns = now_ns;
    if (taken == left) {
        text_release(client->sending);
        client->sending = NULL;
    }
    return (ssize_t)taken;
}

int page_live_wake(struct page_live *live, int64_t now_ns)
{
    for (int i = 0; i < PAGE_LIVE_CLIENTS; i++) {
        struct page_live_client *client = &live->clients[i];
        const bool has_news = (live->newest && client->number != live->number) ||
                              now_ns - client->spoke_ns >= comment_ns ||
                              is_over(live, client, now_ns);
        if (client->is_open && client->is_waiting && has_news) {
            client->is_waiting = false;
            return i;
        }
    }
    return -1;
}
