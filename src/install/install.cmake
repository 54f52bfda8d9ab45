# cmake --install: the program with its manual, completions and documents (component `program`), and the
# library for other programs (component `library`): headers, one static archive of all rooms,
# find_package(Glassine) and pkg-config.
include(GNUInstallDirs)
include(CMakePackageConfigHelpers)

install(TARGETS glassine_program RUNTIME COMPONENT program)
install(DIRECTORY ${PROJECT_BINARY_DIR}/manual/man/ DESTINATION ${CMAKE_INSTALL_MANDIR}/man1
        COMPONENT program)
set(completions ${PROJECT_BINARY_DIR}/manual/completions)
install(FILES ${completions}/glassine COMPONENT program
        DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions)
install(FILES ${completions}/_glassine COMPONENT program
        DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/vendor-completions)
install(FILES ${completions}/glassine.fish COMPONENT program
        DESTINATION ${CMAKE_INSTALL_DATADIR}/fish/vendor_completions.d)
install(FILES README.md DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT program)
install(DIRECTORY docs DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT program)

# The rooms in one archive: their arrows are no business of those who link it. Lowest room last.
get_property(rooms GLOBAL PROPERTY GLASSINE_ROOMS)
set(objects)
set(uses)
foreach(room ${rooms})
  list(APPEND objects $<TARGET_OBJECTS:${room}>)
  get_target_property(room_uses ${room} INTERFACE_LINK_LIBRARIES)
  list(APPEND uses ${room_uses})
endforeach()
list(FILTER uses EXCLUDE REGEX "^glassine_")
list(REMOVE_DUPLICATES uses)
list(REMOVE_ITEM uses nlohmann_json::nlohmann_json)  # of headers only, and in no public one
add_library(glassine_archive STATIC ${objects})
set_target_properties(glassine_archive PROPERTIES OUTPUT_NAME glassine EXPORT_NAME glassine
                                                  LINKER_LANGUAGE CXX)
target_compile_features(glassine_archive INTERFACE cxx_std_20)
target_link_libraries(glassine_archive INTERFACE ${uses})
target_include_directories(glassine_archive INTERFACE $<INSTALL_INTERFACE:${CMAKE_INSTALL_INCLUDEDIR}>)

# What those who link the archive have to find besides, for CMake (name=module) and for pkg-config.
set(used_modules)
set(pc_requires libcrypto fmt icu-uc icu-i18n)  # OpenSSL::Crypto, fmt::fmt, ICU::uc, ICU::i18n
foreach(use ${uses})
  if(use MATCHES "^PkgConfig::(.+)$")
    set(name ${CMAKE_MATCH_1})
    if(NOT ${name}_module)
      message(FATAL_ERROR "Say glassine_uses(${name} …) in CMakeLists.txt: users of the library need it too")
    endif()
    list(APPEND used_modules ${name}=${${name}_module})
    list(APPEND pc_requires ${${name}_module})
  endif()
endforeach()
list(JOIN used_modules " " used_modules)
list(JOIN pc_requires ", " pc_requires)

set(config ${CMAKE_INSTALL_LIBDIR}/cmake/Glassine)
install(TARGETS glassine_archive EXPORT Glassine ARCHIVE COMPONENT library)
install(DIRECTORY include/glassine DESTINATION ${CMAKE_INSTALL_INCLUDEDIR} COMPONENT library)
install(EXPORT Glassine NAMESPACE Glassine:: FILE GlassineTargets.cmake DESTINATION ${config}
        COMPONENT library)
configure_package_config_file(src/install/GlassineConfig.cmake.in
                              ${PROJECT_BINARY_DIR}/GlassineConfig.cmake
                              INSTALL_DESTINATION ${config})
write_basic_package_version_file(${PROJECT_BINARY_DIR}/GlassineConfigVersion.cmake
                                 COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/GlassineConfig.cmake
              ${PROJECT_BINARY_DIR}/GlassineConfigVersion.cmake
        DESTINATION ${config} COMPONENT library)
file(RELATIVE_PATH pc_to_prefix /${CMAKE_INSTALL_LIBDIR}/pkgconfig /)
configure_file(src/install/glassine.pc.in glassine.pc @ONLY)
install(FILES ${PROJECT_BINARY_DIR}/glassine.pc DESTINATION ${CMAKE_INSTALL_LIBDIR}/pkgconfig
        COMPONENT library)
