# The runtime for other programs: the C ABI as a shared library, its headers, a CMake package and a pkg-config file.
include(GNUInstallDirs)
include(CMakePackageConfigHelpers)

# Nothing outside puts another function in the place of one of ours, so that the compiler may see through them.
set_target_properties(linelaw_runtime PROPERTIES POSITION_INDEPENDENT_CODE ON
    CXX_VISIBILITY_PRESET hidden VISIBILITY_INLINES_HIDDEN ON)
target_compile_options(linelaw_runtime PRIVATE -fno-semantic-interposition)
add_library(linelaw_c SHARED c_api.cpp)
target_compile_definitions(linelaw_c PRIVATE LINELAW_VERSION="${PROJECT_VERSION}")
target_include_directories(linelaw_c PUBLIC
    $<BUILD_INTERFACE:${CMAKE_CURRENT_SOURCE_DIR}/include> $<INSTALL_INTERFACE:${CMAKE_INSTALL_INCLUDEDIR}>)
target_link_libraries(linelaw_c PRIVATE linelaw_runtime nlohmann_json::nlohmann_json)
# What a program is bound to: while the major version is 0, a new minor one may change the interface.
set(LINELAW_ABI ${PROJECT_VERSION_MAJOR})
if(LINELAW_ABI EQUAL 0)
    set(LINELAW_ABI 0.${PROJECT_VERSION_MINOR})
endif()
set(LINELAW_SYMBOLS ${CMAKE_CURRENT_BINARY_DIR}/linelaw.map)
configure_file(install/linelaw.map.in ${LINELAW_SYMBOLS} @ONLY)
target_link_options(linelaw_c PRIVATE "LINKER:--version-script=${LINELAW_SYMBOLS}" "LINKER:--no-undefined")
set_target_properties(linelaw_c PROPERTIES
    OUTPUT_NAME linelaw EXPORT_NAME linelaw VERSION ${PROJECT_VERSION} SOVERSION ${LINELAW_ABI}
    LINK_DEPENDS ${LINELAW_SYMBOLS})

set(LINELAW_PACKAGE ${CMAKE_INSTALL_LIBDIR}/cmake/linelaw)
install(TARGETS linelaw_c EXPORT linelawTargets LIBRARY DESTINATION ${CMAKE_INSTALL_LIBDIR})
install(DIRECTORY include/linelaw DESTINATION ${CMAKE_INSTALL_INCLUDEDIR})
install(EXPORT linelawTargets NAMESPACE linelaw:: DESTINATION ${LINELAW_PACKAGE})
configure_package_config_file(install/linelawConfig.cmake.in ${CMAKE_CURRENT_BINARY_DIR}/linelawConfig.cmake
    INSTALL_DESTINATION ${LINELAW_PACKAGE})
write_basic_package_version_file(${CMAKE_CURRENT_BINARY_DIR}/linelawConfigVersion.cmake
    COMPATIBILITY SameMinorVersion)
# Found from where the file lies, so that `cmake --install --prefix` may put it anywhere.
file(RELATIVE_PATH LINELAW_PREFIX_FROM_PC "/${CMAKE_INSTALL_LIBDIR}/pkgconfig" "/")
configure_file(install/linelaw.pc.in ${CMAKE_CURRENT_BINARY_DIR}/linelaw.pc @ONLY)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/linelawConfig.cmake ${CMAKE_CURRENT_BINARY_DIR}/linelawConfigVersion.cmake
    DESTINATION ${LINELAW_PACKAGE})
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/linelaw.pc DESTINATION ${CMAKE_INSTALL_LIBDIR}/pkgconfig)
