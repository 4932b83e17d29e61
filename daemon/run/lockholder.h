/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Who holds a lock file, without taking the lock oneself: a daemon that starts in that moment must
 * not find it taken.
 */
#ifndef LAMPWARDEN_LOCKHOLDER_H
#define LAMPWARDEN_LOCKHOLDER_H

/* The process that holds an exclusive flock(2) on the file; 0: nobody, no such file, or the kernel
 * does not tell. Source: proc(5), /proc/locks. */
int lockholder_find(const char *path);

#endif
