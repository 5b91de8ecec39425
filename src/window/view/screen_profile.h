// The colour profile of a monitor as the desktop tells it.
#pragma once

#include <QtCore/QByteArray>

class QScreen;
struct xcb_connection_t;

namespace samelight::window {

// ICC profile of the monitor; empty where the system tells none (no profile is set, or it is no X11 system).
// Main thread only.
QByteArray ProfileOf(const QScreen* screen);

// What an X server keeps for its monitor `index`: the property _ICC_PROFILE of the root window for the first,
// _ICC_PROFILE_1 and so on for the others (freedesktop.org, "ICC Profiles in X Specification", 0.4).
// `root`: id of the root window. Empty: there is none, or it is larger than 16 MiB.
QByteArray ProfileOfRoot(xcb_connection_t* server, unsigned root, int index);

}  // namespace samelight::window
