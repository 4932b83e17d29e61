#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Wrong, late and missing answers of a slave of other people's making, over TCP.
kind=tcp
. "$(dirname "$0")/pymodbus_faults.sh"
