/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The page as it is sent: daemon/page/index.html, without its comments, and with
 *   @SITE@     the site's name
 *   @MARK@     that this is a demonstration, and how fast; or nothing
 *   @SUMMARY@  what every space does now, for whoever has no script; index.html shows its form
 * Names and sentences may hold anything: each is escaped.
 */
#ifndef LAMPWARDEN_PAGE_HTML_H
#define LAMPWARDEN_PAGE_HTML_H

#include <jansson.h>
#include <stdio.h>

/* status: of status_json; NULL: the daemon has only just started. malloc'ed; NULL: no memory. */
char *page_html(const char *index_html, const json_t *status);

/* & < > " ' as entities; control characters become spaces. */
void page_html_text(const char *text, FILE *out);

#endif
