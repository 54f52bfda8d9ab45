# Debian packages by CPack: `cpack -G DEB` in the build folder makes glassine (the program) and
# libglassine-dev (the library for other programs). What they depend on is read from the binaries.
set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME glassine)
set(CPACK_PACKAGE_VERSION ${PROJECT_VERSION})
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_COMPONENTS_ALL program library)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_MAINTAINER "The Glassine authors <glassine@localhost>")
set(CPACK_DEBIAN_PROGRAM_PACKAGE_NAME glassine)
set(CPACK_DEBIAN_PROGRAM_PACKAGE_SECTION utils)
set(CPACK_DEBIAN_PROGRAM_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_LIBRARY_PACKAGE_NAME libglassine-dev)
set(CPACK_DEBIAN_LIBRARY_PACKAGE_SECTION libdevel)
set(CPACK_COMPONENT_PROGRAM_DESCRIPTION "\
Packs a delivered photo job into one sealed bag (BagIt, RFC 8493) on two or
more drives, proves years later that every picture is still what was sealed,
and heals what is not from recovery data or other copies.")
set(CPACK_COMPONENT_LIBRARY_DESCRIPTION "\
The library: headers and a static archive for programs that seal, check and
heal bags of photo jobs.")
file(STRINGS .ci/packages dev_packages REGEX "^[a-z0-9.-]+-dev")
set(dev_depends g++ pkg-config)
foreach(line ${dev_packages})
  string(REGEX MATCH "^[a-z0-9.-]+" package ${line})
  if(NOT package MATCHES "cli11|lcms2|nlohmann")  # not of the library's interface
    list(APPEND dev_depends ${package})
  endif()
endforeach()
list(JOIN dev_depends ", " CPACK_DEBIAN_LIBRARY_PACKAGE_DEPENDS)
include(CPack)
