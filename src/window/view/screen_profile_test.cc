// Profiles that an X server keeps, on a server of our own.
#include "window/view/screen_profile.h"

#include <gtest/gtest.h>
#include <xcb/xcb.h>

#include <cstring>
#include <string>

#include <QtCore/QProcess>
#include <QtCore/QStandardPaths>

namespace samelight::window {
namespace {

// A virtual X server with a connection to it.
class XServerTest : public testing::Test {
 protected:
  void SetUp() override {
    if (QStandardPaths::findExecutable(QStringLiteral("Xvfb")).isEmpty())
      GTEST_SKIP() << "Xvfb is not installed";
    xvfb_.start(
        QStringLiteral("Xvfb"),
        {QStringLiteral("-displayfd"), QStringLiteral("1"), QStringLiteral("-screen"), QStringLiteral("0"),
         QStringLiteral("64x64x24"), QStringLiteral("-nolisten"), QStringLiteral("tcp")});
    ASSERT_TRUE(xvfb_.waitForReadyRead(20000)) << xvfb_.readAllStandardError().toStdString();
    const std::string display = ":" + xvfb_.readAllStandardOutput().trimmed().toStdString();
    server_ = xcb_connect(display.c_str(), nullptr);
    ASSERT_EQ(xcb_connection_has_error(server_), 0) << display;
    root_ = xcb_setup_roots_iterator(xcb_get_setup(server_)).data->root;
  }
  void TearDown() override {
    if (server_) xcb_disconnect(server_);
    xvfb_.terminate();
    xvfb_.waitForFinished(10000);
  }
  void Set(const char* name, const std::string& bytes) {
    xcb_intern_atom_reply_t* atom = xcb_intern_atom_reply(
        server_, xcb_intern_atom(server_, 0, static_cast<std::uint16_t>(std::strlen(name)), name), nullptr);
    ASSERT_TRUE(atom);
    xcb_change_property(server_, XCB_PROP_MODE_REPLACE, root_, atom->atom, XCB_ATOM_CARDINAL, 8,
                        static_cast<std::uint32_t>(bytes.size()), bytes.data());
    xcb_flush(server_);
    std::free(atom);
  }
  QProcess xvfb_;
  xcb_connection_t* server_ = nullptr;
  unsigned root_ = 0;
};

// Names of the properties: freedesktop.org, "ICC Profiles in X Specification", 0.4.
TEST_F(XServerTest, TheFirstMonitorsProfileAndThatOfAnother) {
  EXPECT_TRUE(ProfileOfRoot(server_, root_, 0).isEmpty()) << "none is set";
  std::string first(300000, '\0');
  for (std::size_t i = 0; i < first.size(); ++i) first[i] = static_cast<char>(i * 7);
  Set("_ICC_PROFILE", first);
  Set("_ICC_PROFILE_2", "another");
  EXPECT_EQ(ProfileOfRoot(server_, root_, 0).toStdString(), first) << "whole, whatever its size";
  EXPECT_TRUE(ProfileOfRoot(server_, root_, 1).isEmpty());
  EXPECT_EQ(ProfileOfRoot(server_, root_, 2).toStdString(), "another");
}

}  // namespace
}  // namespace samelight::window
