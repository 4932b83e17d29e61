#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The daemon against a Modbus slave of other people's making, over TCP.
kind=tcp
. "$(dirname "$0")/pymodbus_day.sh"
