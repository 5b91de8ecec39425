# `cpack` in the build folder writes a Debian package.
install(TARGETS samelight RUNTIME DESTINATION bin)
set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME samelight)
set(CPACK_PACKAGE_CONTACT "The Samelight developers <developers@samelight.invalid>")
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_STRIP_FILES ON)
include(CPack)
