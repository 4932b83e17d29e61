/* SPDX-License-Identifier: Apache-2.0 */
/* The server left behind by a daemon that ends: its snapshot is gone, its streams are not. What
 * browsers may do to it is tests/system/34_page.sh's. */
#include "page_server.h"

#include "clock.h"
#include "err.h"
#include "page.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <unistd.h>

#include <cmocka.h>

static const char shelf[] =
    "buses = ({name = \"b\"; driver = \"bench\";});"
    "outputs = ({name = \"d\"; bus = \"b\"; kind = \"switch\";});"
    "fixtures = ({name = \"f\"; switch = \"d\"; ppfd_full = 300; full_watts = 100;});"
    "stages = ({name = \"s\"; days = 0; lights_on = \"06:00\"; day_length_h = 16;"
    "           target_mol = 10;});"
    "spaces = ({name = \"lettuce\"; fixtures = [\"f\"]; stages = [\"s\"]; start = "
    "\"2026-11-02\";});"
    "site = {utc_offset = \"+01:00\"; name = \"Room\";};";

static struct page_sources sources;
static struct config *config;

static void make_sources(void)
{
    struct config_report report = {0};
    assert_int_equal(config_load_text("shelf", shelf, sizeof shelf - 1, &config, &report), 0);
    config_report_free(&report);
    sources.version = "7";
    sources.files.index_html = "";
    assert_int_equal(snapshot_create(config, &sources.snapshot, NULL), 0);
    struct picture *picture = snapshot_begin(sources.snapshot);
    assert_non_null(picture);
    picture->ticks = 1;
    picture->started_ns = picture->boot_ns = 1;
    snapshot_show(sources.snapshot, picture);
}

static struct sockaddr_in here(int port)
{
    struct sockaddr_in where = {.sin_family = AF_INET, .sin_port = htons((uint16_t)port)};
    where.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    return where;
}

static int free_port(void)
{
    struct sockaddr_in where = here(0);
    socklen_t size = sizeof where;
    const int fd = socket(AF_INET, SOCK_STREAM, 0);
    assert_int_equal(bind(fd, (struct sockaddr *)&where, size), 0);
    assert_int_equal(getsockname(fd, (struct sockaddr *)&where, &size), 0);
    (void)close(fd);
    return ntohs(where.sin_port);
}

/* A browser that has had its first picture. */
static int listen_live(int port)
{
    static const char request[] = "GET /live HTTP/1.1\r\nHost: localhost\r\n\r\n";
    const struct timeval patience = {.tv_sec = 20};
    const struct sockaddr_in where = here(port);
    char text[16384] = "";
    size_t used = 0;
    const int fd = socket(AF_INET, SOCK_STREAM, 0);
    assert_int_equal(setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience), 0);
    assert_int_equal(connect(fd, (const struct sockaddr *)&where, sizeof where), 0);
    assert_int_equal(send(fd, request, sizeof request - 1, 0), sizeof request - 1);
    while (!strstr(text, "event: status")) {
        const ssize_t got = recv(fd, text + used, sizeof text - 1 - used, 0);
        assert_true(got > 0);
        used += (size_t)got;
        text[used] = '\0';
    }
    return fd;
}

static void the_snapshot_may_be_gone(void **state)
{
    (void)state;
    struct page_server *server = NULL;
    struct err err = {""};
    struct config_page page = {.port = free_port()};
    if (page_missing()[0]) {
        skip();
    }
    (void)snprintf(page.address, sizeof page.address, "127.0.0.1");
    make_sources();
    assert_int_equal(page_server_start(&page, &sources, &server, &err), 0);
    const int browser = listen_live(page.port);
    atomic_store(&sources.is_over, true);
    snapshot_destroy(sources.snapshot);
    sources.snapshot = NULL;
    page_server_pulse(server,
                      clock_real_ns() + 5 * CLOCK_NS_PER_S); /* a new picture would be due */
    page_server_stop(server);
    (void)close(browser);
    config_free(config);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_snapshot_may_be_gone)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
