#include "window/view/screen_profile.h"

#include <xcb/xcb.h>

#include <algorithm>
#include <cstdlib>
#include <memory>
#include <string>

#include <QtGui/QGuiApplication>
#include <QtGui/QScreen>

namespace samelight::window {
namespace {

constexpr std::uint32_t kMostWords = 4u << 20;  // of four bytes

template <class T>
std::unique_ptr<T, decltype(&std::free)> Owned(T* answer) {
  return {answer, &std::free};
}

}  // namespace

QByteArray ProfileOfRoot(xcb_connection_t* server, unsigned root, int index) {
  const std::string name = index <= 0 ? "_ICC_PROFILE" : "_ICC_PROFILE_" + std::to_string(index);
  const auto atom = Owned(xcb_intern_atom_reply(
      server, xcb_intern_atom(server, 1, static_cast<std::uint16_t>(name.size()), name.c_str()), nullptr));
  if (!atom || atom->atom == XCB_ATOM_NONE) return {};
  const auto property = Owned(xcb_get_property_reply(
      server, xcb_get_property(server, 0, root, atom->atom, XCB_ATOM_ANY, 0, kMostWords), nullptr));
  if (!property || property->format != 8 || property->bytes_after > 0) return {};
  return {static_cast<const char*>(xcb_get_property_value(property.get())),
          xcb_get_property_value_length(property.get())};
}

QByteArray ProfileOf(const QScreen* screen) {
  auto* x11 = qGuiApp->nativeInterface<QNativeInterface::QX11Application>();
  if (!x11 || !screen || !x11->connection()) return {};
  const xcb_setup_t* setup = xcb_get_setup(x11->connection());
  const xcb_screen_t* first = xcb_setup_roots_iterator(setup).data;
  if (!first) return {};
  const int index = static_cast<int>(QGuiApplication::screens().indexOf(const_cast<QScreen*>(screen)));
  return ProfileOfRoot(x11->connection(), first->root, std::max(0, index));
}

}  // namespace samelight::window
