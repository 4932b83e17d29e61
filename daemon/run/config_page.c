/* SPDX-License-Identifier: Apache-2.0 */
/* The page for a browser: what its keys say together. */
#include "config_build.h"

#include "config_check.h"
#include "findings.h"
#include "page.h"
#include "page_guard.h"
#include "parse.h"

#include <ctype.h>
#include <string.h>

static void check_address(const struct section *page, struct findings *findings)
{
    const struct value *address = &page->values[PAGE_ADDRESS];
    if (!section_is_usable(page, PAGE_ADDRESS)) {
        return;
    }
    const enum page_reach reach = page_reach(address->text);
    if (reach == PAGE_REACH_NONE) {
        char quoted[64];
        parse_quote(address->text, quoted, sizeof quoted);
        findings_error(findings, address->line,
                       "page.address: \"%s\" is no IP address (127.0.0.1, ::1, 0.0.0.0 for all of "
                       "this computer's)",
                       quoted);
    } else if (reach != PAGE_REACH_LOOPBACK && section_text(page, PAGE_PASSWORD_FILE)[0] == '\0' &&
               section_integer(page, PAGE_BEHIND_PROXY) == 0) {
        findings_error(findings, address->line,
                       "page.address: %s can be reached from other computers: give password_file, "
                       "or behind_proxy = true when a proxy of yours asks who may look",
                       address->text);
    }
}

static void check_names(const struct section *page, struct findings *findings)
{
    const struct value *names = &page->values[PAGE_HOST_NAMES];
    for (const char *at = names->text; section_is_usable(page, PAGE_HOST_NAMES) && *at; at++) {
        if (!isalnum((unsigned char)*at) && !strchr("-. _", *at)) {
            char quoted[64];
            parse_quote(names->text, quoted, sizeof quoted);
            findings_error(
                findings, names->line,
                "page.host_names: \"%s\" are no names of computers (letters, digits, '-' "
                "and '.', separated by spaces; no port)",
                quoted);
            return;
        }
    }
}

void check_page(const struct section *page, struct findings *findings)
{
    check_address(page, findings);
    check_names(page, findings);
}

void build_page(const struct section *page, struct config_page *ret)
{
    *ret = (struct config_page){.is_behind_proxy = section_integer(page, PAGE_BEHIND_PROXY) != 0};
    build_text(ret->address, sizeof ret->address, section_text(page, PAGE_ADDRESS));
    build_text(ret->password_file, sizeof ret->password_file,
               section_text(page, PAGE_PASSWORD_FILE));
    build_text(ret->host_names, sizeof ret->host_names, section_text(page, PAGE_HOST_NAMES));
    ret->port = section_is_usable(page, PAGE_PORT) ? (int)section_integer(page, PAGE_PORT) : 0;
}

/* The whole group was written and says nothing, or something that only a page needs. */
static bool wants_a_page(const struct section *page)
{
    bool is_empty = true;
    for (int i = 0; i < page->key_count; i++) {
        is_empty = is_empty && page->values[i].line == 0;
    }
    return page->line > 0 &&
           (is_empty || strcmp(section_text(page, PAGE_ADDRESS), "127.0.0.1") != 0 ||
            section_text(page, PAGE_PASSWORD_FILE)[0] || section_text(page, PAGE_HOST_NAMES)[0] ||
            section_integer(page, PAGE_BEHIND_PROXY));
}

void config_warn_page(const struct section *root, struct findings *findings)
{
    const struct section *page = section_group(root, ROOT_PAGE);
    if (!page->values[PAGE_PORT].is_set && wants_a_page(page)) {
        findings_warning(findings, page->line,
                         "page: there is none without a port (1024 … 65535; 8414 is usual)");
    } else if (page->values[PAGE_PORT].is_set && page_missing()[0]) {
        findings_warning(findings, page->line, "page: there is none: %s", page_missing());
    }
}
