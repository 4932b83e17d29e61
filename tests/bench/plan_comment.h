/* SPDX-License-Identifier: Apache-2.0 */
/* The comment with which a csv file of daylight begins: where and how it was measured, in words. */
#ifndef LAMPWARDEN_PLAN_COMMENT_H
#define LAMPWARDEN_PLAN_COMMENT_H

struct err;

/* Where in its interval the time of a row stands. */
enum plan_stamp { PLAN_STAMP_END, PLAN_STAMP_CENTRE, PLAN_STAMP_BEGIN };

struct plan_comment {
    double latitude, longitude; /* degrees north and east; the sign as the file has it */
    int offset_min;             /* of local standard time, east of UTC; not said: by longitude */
    enum plan_stamp stamp;      /* not said: the end */
    int first_year;             /* not said: 2023 */
};

/* 0, or -EINVAL with the reason: no comment, or no place in it. */
int plan_comment_read(const char *line, struct plan_comment *ret, struct err *err);

#endif
