/* SPDX-License-Identifier: Apache-2.0 */
#include "page_guard.h"

#include "clock.h"
#include "err.h"
#include "fileio.h"

#include <arpa/inet.h>
#include <ctype.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

enum {
    NAME_MAX_LENGTH = 253, /* RFC 1035, 2.3.4, without the root's dot */
    LINE_MAX_LENGTH = 280,
    LOOPBACK_NET = 127,
};

static const int64_t minute_ns = 60 * CLOCK_NS_PER_S;

enum page_reach page_reach(const char *address)
{
    struct in_addr four;
    struct in6_addr six;
    if (inet_pton(AF_INET, address, &four) == 1) {
        const uint32_t number = ntohl(four.s_addr);
        if (number == INADDR_ANY) {
            return PAGE_REACH_ALL;
        }
        return number >> 24 == LOOPBACK_NET ? PAGE_REACH_LOOPBACK : PAGE_REACH_ONE;
    }
    if (inet_pton(AF_INET6, address, &six) != 1) {
        return PAGE_REACH_NONE;
    }
    if (IN6_IS_ADDR_UNSPECIFIED(&six)) {
        return PAGE_REACH_ALL;
    }
    return IN6_IS_ADDR_LOOPBACK(&six) ? PAGE_REACH_LOOPBACK : PAGE_REACH_ONE;
}

/* "name", "name:8414", "[::1]:8414" without port, brackets and a last dot. False: none of these. */
static bool take_name(const char *host, char ret[NAME_MAX_LENGTH + 1])
{
    const bool is_bracketed = host[0] == '[';
    const char *begin = host + is_bracketed;
    size_t length = strcspn(begin, is_bracketed ? "]" : ":");
    const char *port = begin + length;
    if (is_bracketed) {
        if (*port != ']') {
            return false;
        }
        port++;
    }
    if (*port == ':') {
        port++;
        port += strspn(port, "0123456789");
    }
    if (*port != '\0' || length == 0 || length > NAME_MAX_LENGTH) {
        return false;
    }
    memcpy(ret, begin, length);
    ret[length - (length > 1 && begin[length - 1] == '.')] = '\0';
    return true;
}

static bool is_listed(const char *names, const char *name)
{
    const size_t length = strlen(name);
    while (*names) {
        const size_t its = strcspn(names, " ");
        if (its == length && strncasecmp(names, name, length) == 0) {
            return true;
        }
        names += its + strspn(names + its, " ");
    }
    return false;
}

bool page_host_is_ours(const struct config_page *config, const char *host)
{
    char name[NAME_MAX_LENGTH + 1];
    if (!host || !take_name(host, name)) {
        return false;
    }
    if (is_listed("localhost 127.0.0.1 ::1", name) || is_listed(config->address, name) ||
        is_listed(config->host_names, name)) {
        return true;
    }
    /* Rebinding needs a name: a bare address is one of ours when all of them are listened to. */
    return page_reach(config->address) == PAGE_REACH_ALL && page_reach(name) != PAGE_REACH_NONE;
}

void page_base64(const unsigned char *bytes, size_t size, char *ret)
{
    static const char digits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    for (size_t i = 0; i < size; i += 3) {
        uint32_t three = (uint32_t)bytes[i] << 16;
        three |= i + 1 < size ? (uint32_t)bytes[i + 1] << 8 : 0;
        three |= i + 2 < size ? bytes[i + 2] : 0;
        *ret++ = digits[three >> 18];
        *ret++ = digits[three >> 12 & 63];
        *ret++ = '=';
        *ret++ = '=';
        if (i + 1 < size) {
            ret[-2] = digits[three >> 6 & 63];
        }
        if (i + 2 < size) {
            ret[-1] = digits[three & 63];
        }
    }
    *ret = '\0';
}

static int take_line(const char *path, char *text, size_t size, struct page_secret *ret,
                     struct err *err)
{
    size_t length = strcspn(text, "\r\n");
    const char *rest = text + length + strspn(text + length, "\r\n");
    const char *colon = memchr(text, ':', length);
    if (rest != text + size || !colon || colon == text || colon == text + length - 1) {
        return err_fail(err, EINVAL, "%s: must hold one line, name:password, and no more", path);
    }
    page_base64((const unsigned char *)text, length, ret->token);
    return 0;
}

int page_secret_read(const char *path, struct page_secret *ret, struct err *err)
{
    _Static_assert(sizeof ret->token > LINE_MAX_LENGTH * 4 / 3 + 4, "the token fits");
    struct stat found;
    char *text = NULL;
    size_t size = 0;
    if (path[0] == '\0') {
        ret->token[0] = '\0';
        return 0;
    }
    if (stat(path, &found) != 0) {
        int code = errno;
        return err_fail(err, code, "%s: %s", path, err_name(code));
    }
    if (found.st_mode & (S_IWGRP | S_IRWXO)) {
        return err_fail(err, EACCES,
                        "%s: its mode is %04o, others may read or change it (chmod 0640)", path,
                        (unsigned)found.st_mode & 07777);
    }
    int code = fileio_read(path, LINE_MAX_LENGTH, &text, &size, err);
    if (code == 0) {
        code = take_line(path, text, size, ret, err);
        explicit_bzero(text, size);
        free(text);
    }
    return code;
}

bool page_tries_are_left(struct page_tries *tries, int64_t real_ns)
{
    if (tries->count == 0 || real_ns - tries->since_ns >= minute_ns) {
        *tries = (struct page_tries){.since_ns = real_ns};
    }
    return tries->count < PAGE_TRIES_MAX;
}

bool page_tries_note(struct page_tries *tries)
{
    return ++tries->count == PAGE_TRIES_MAX;
}

bool page_secret_fits(const struct page_secret *secret, const char *authorization)
{
    static const char scheme[] = "Basic";
    const size_t size = strlen(secret->token);
    if (size == 0) {
        return true;
    }
    if (!authorization || strncasecmp(authorization, scheme, sizeof scheme - 1) != 0) {
        return false;
    }
    const char *given = authorization + sizeof scheme - 1;
    given += strspn(given, " ");
    const size_t length = strlen(given);
    volatile unsigned difference = (unsigned)(length != size);
    for (size_t i = 0; i < size; i++) {
        difference |= (unsigned char)secret->token[i] ^ (unsigned char)given[i < length ? i : 0];
    }
    return difference == 0;
}
