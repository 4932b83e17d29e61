/* SPDX-License-Identifier: Apache-2.0 */
/* etc/demo.conf as it was when the program was built. */
#ifndef LAMPWARDEN_CONFIG_DEMO_H
#define LAMPWARDEN_CONFIG_DEMO_H

extern const char config_demo_text[];

#endif
