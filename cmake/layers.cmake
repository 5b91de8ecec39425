# Builds one layer of src/ as a library, and its x_test.cc / x_bench.cc files beside it.
include(GoogleTest)

find_program(SAMELIGHT_CCACHE ccache)
if(SAMELIGHT_CCACHE)
  set(CMAKE_CXX_COMPILER_LAUNCHER ${SAMELIGHT_CCACHE})
endif()
find_program(SAMELIGHT_MOLD mold)
if(SAMELIGHT_MOLD)
  add_link_options(-fuse-ld=mold)
endif()

# Each program holds all layers below it: archives only point to the objects, and what debuggers read is packed,
# else the sanitizers' build fills small disks.
set(CMAKE_CXX_ARCHIVE_CREATE "<CMAKE_AR> qcT <TARGET> <LINK_FLAGS> <OBJECTS>")
set(CMAKE_CXX_ARCHIVE_APPEND "<CMAKE_AR> qT <TARGET> <LINK_FLAGS> <OBJECTS>")
add_link_options(-Wl,--compress-debug-sections=zlib)

set(CMAKE_CXX_FLAGS_RELWITHDEBINFO "-O2 -g1")
set(CMAKE_CXX_FLAGS_DEBUG "-O1 -g1")
if(SAMELIGHT_SANITIZE)
  add_compile_options(-fsanitize=${SAMELIGHT_SANITIZE} -fno-omit-frame-pointer -fno-sanitize-recover=undefined)
  add_link_options(-fsanitize=${SAMELIGHT_SANITIZE})
  if(CMAKE_CXX_COMPILER_ID STREQUAL "GNU" AND NOT SAMELIGHT_SANITIZE MATCHES "thread")
    add_link_options(-no-pie)  # a quarter of such a program would be places to relocate
  endif()
endif()

if(SAMELIGHT_FUZZ)
  add_compile_options(-fsanitize=fuzzer-no-link)
endif()
if(SAMELIGHT_COVERAGE)
  add_compile_options(--coverage)
  add_link_options(--coverage)
endif()

# Options of our own targets only: warnings are errors here, not in third-party headers.
function(samelight_target_options target)
  target_compile_options(${target} PRIVATE -Wall -Wextra -Wpedantic -Wshadow -Wno-missing-field-initializers -Wno-dangling-else
                                           -Werror)
  # The standard library's own stable_sort calls what it deprecates; clang tells, GCC does not.
  target_compile_options(${target} PRIVATE $<$<CXX_COMPILER_ID:Clang>:-Wno-deprecated-declarations>)
  target_include_directories(${target} PUBLIC ${PROJECT_SOURCE_DIR}/src)
  if(SAMELIGHT_SANITIZE)
    # GCC warns that instrumented code makes this one guess wrong (its manual, -fsanitize).
    target_compile_options(${target} PRIVATE $<$<CXX_COMPILER_ID:GNU>:-Wno-maybe-uninitialized>)
  endif()
  if(SAMELIGHT_SCALAR)
    target_compile_definitions(${target} PRIVATE SAMELIGHT_SCALAR=1 HWY_COMPILE_ONLY_SCALAR=1)
  endif()
endfunction()

# samelight_layer(NAME LAYERS other layers... LIBS third-party targets...)
# Third-party headers are system headers, so that our warnings stay ours.
function(samelight_layer name)
  cmake_parse_arguments(arg "" "" "LAYERS;LIBS;TEST_LAYERS;TEST_LIBS" ${ARGN})
  file(GLOB sources CONFIGURE_DEPENDS *.cc)
  set(tests ${sources})
  set(benches ${sources})
  list(FILTER sources EXCLUDE REGEX "_(test|bench)\\.cc$")
  list(FILTER tests INCLUDE REGEX "_test\\.cc$")
  list(FILTER benches INCLUDE REGEX "_bench\\.cc$")
  list(TRANSFORM arg_LAYERS PREPEND samelight_)
  list(TRANSFORM arg_TEST_LAYERS PREPEND samelight_)
  if(sources)
    add_library(samelight_${name} STATIC ${sources})
    samelight_target_options(samelight_${name})
    target_link_libraries(samelight_${name} PUBLIC ${arg_LAYERS} PRIVATE ${arg_LIBS})
  else()
    add_library(samelight_${name} INTERFACE)
    target_include_directories(samelight_${name} INTERFACE ${PROJECT_SOURCE_DIR}/src)
    target_link_libraries(samelight_${name} INTERFACE ${arg_LAYERS} ${arg_LIBS})
  endif()
  if(SAMELIGHT_TESTS AND tests)
    add_executable(${name}_test ${tests})
    samelight_target_options(${name}_test)
    target_link_libraries(${name}_test PRIVATE samelight_${name} ${arg_TEST_LAYERS} ${arg_LIBS} ${arg_TEST_LIBS}
                                               GTest::gtest GTest::gmock GTest::gtest_main)
    target_compile_definitions(${name}_test PRIVATE SAMELIGHT_SOURCE_DIR="${PROJECT_SOURCE_DIR}"
                                                    SAMELIGHT_ASSETS_DIR="${PROJECT_SOURCE_DIR}/build/assets")
    # Suites named Large... are left out under the sanitizers, where they would take too long.
    gtest_discover_tests(${name}_test TEST_PREFIX ${name}. TEST_FILTER -Large* DISCOVERY_MODE PRE_TEST
                         PROPERTIES TIMEOUT 600)
    gtest_discover_tests(${name}_test TEST_PREFIX ${name}. TEST_FILTER Large* TEST_LIST ${name}_large_tests
                         DISCOVERY_MODE PRE_TEST PROPERTIES TIMEOUT 1200 LABELS large)
  endif()
  if(SAMELIGHT_BENCH AND benches)
    add_executable(${name}_bench ${benches})
    samelight_target_options(${name}_bench)
    target_link_libraries(${name}_bench PRIVATE samelight_${name} ${arg_TEST_LAYERS} ${arg_LIBS}
                                                benchmark::benchmark benchmark::benchmark_main)
    target_compile_definitions(${name}_bench PRIVATE SAMELIGHT_SOURCE_DIR="${PROJECT_SOURCE_DIR}"
                                                     SAMELIGHT_ASSETS_DIR="${PROJECT_SOURCE_DIR}/build/assets")
  endif()
endfunction()
