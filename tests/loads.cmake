# SPDX-License-Identifier: Apache-2.0
# How much of the cores each test keeps busy, for `ctest --resource-spec-file tests/cores.json -j MANY` as run.sh calls
# it: most tests of the real programs wait, for a daemon or a line, and many of them fit beside one that computes.
# Without that file ctest counts PROCESSORS alone. Measured as CPU time (user and system, of all its processes) over
# the time that it took alone. What has most seconds begins first: the length of a test, more for those that find no
# place beside others.
include(ProcessorCount)
ProcessorCount(cores)
if(cores EQUAL 0)
  set(cores 1)
endif()
math(EXPR most "100 * ${cores}")
file(WRITE ${CMAKE_CURRENT_BINARY_DIR}/cores.json
  "{ \"version\": { \"major\": 1, \"minor\": 0 }, \"local\": [ { \"cpus\": [ { \"id\": \"0\", \"slots\": ${most} } ] } ] }\n")

# lampwarden_load(NAME PERCENT SECONDS): percent of a core
function(lampwarden_load name percent seconds)
  if(NOT TEST ${name})
    return()
  endif()
  if(percent GREATER most)
    set(percent ${most})
  endif()
  set_tests_properties(${name} PROPERTIES RESOURCE_GROUPS "cpus:${percent}" COST ${seconds})
endfunction()

# What is not named below, by its kind.
set(load_unit 25)
set(load_sim 50)
set(load_fuzz 50)
set(load_system 20)
set(load_meta 50)
set(load_kernel 100)
get_property(tests DIRECTORY PROPERTY TESTS)
foreach(name ${tests})
  string(REGEX REPLACE "\\..*" "" kind ${name})
  if(DEFINED load_${kind})
    lampwarden_load(${name} ${load_${kind}} 1)
  else()
    lampwarden_load(${name} 100 30)
  endif()
endforeach()

lampwarden_load(kernel.00_prepare 150 400)
lampwarden_load(kernel.60_power_cut 150 300)
lampwarden_load(kernel.50_clock 140 250)
lampwarden_load(kernel.40_modbus 100 200)
lampwarden_load(kernel.70_whole_day 100 190)
lampwarden_load(kernel.10_switch 90 180)
lampwarden_load(kernel.20_pwm 90 170)
lampwarden_load(kernel.80_unit 60 160)
lampwarden_load(kernel.31_heat 60 150)
lampwarden_load(kernel.30_dac 60 140)
lampwarden_load(system.21_try 20 127)
lampwarden_load(system.12_kill_restart 20 75)
lampwarden_load(system.13_full_disk 20 66)
lampwarden_load(system.22_pymodbus_faults_tcp 60 52) # a slave in Python, whose gaps count
lampwarden_load(system.23_pymodbus_faults_rtu 60 33)
foreach(name 05_bench_device 14_journal_folder 18_lost_line 19_make_safe 20_daemon_words 24_sense 32_sweep)
  lampwarden_load(system.${name} 20 25)
endforeach()
foreach(name 10_pymodbus_tcp 11_pymodbus_rtu 16_hostile_socket 17_bad_reload)
  lampwarden_load(system.${name} 20 15)
endforeach()
lampwarden_load(system.37_page_browser 100 135) # a browser computes
lampwarden_load(unit.test_tick 10 49)
foreach(name worker pwm config_guard)
  lampwarden_load(unit.test_${name} 10 15)
endforeach()
foreach(name driver faults line link output probe reader tty unit) # they idle, but watch milliseconds: two at a time
  lampwarden_load(unit.test_modbus_${name} 100 15)
endforeach()
foreach(name year clock power plan fault_years)
  lampwarden_load(sim.test_sim_${name} 50 130)
endforeach()

# These use every core themselves, behind all others and one after the other.
foreach(name check_tidy check_clang check_release check_cppcheck)
  lampwarden_load(meta.${name} 25 90)
  set_tests_properties(meta.${name} PROPERTIES RESOURCE_LOCK compiler PROCESSORS ${cores} TIMEOUT 1200)
endforeach()
