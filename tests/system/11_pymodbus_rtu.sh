#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The daemon against a Modbus slave of other people's making, over a serial line.
kind=rtu
. "$(dirname "$0")/pymodbus_day.sh"
