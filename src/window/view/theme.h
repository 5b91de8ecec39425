// The one place for greys, type and measures. Sizes in px at 1x; nothing else in the window names a colour.
#pragma once

#include <QtGui/QColor>
#include <QtGui/QFont>

namespace samelight::window::theme {

// Greys, by rising L* (13, 18, 19, 24, 28, 29, 37, 43). The easel's surround has 13 % of the luminance of
// white and no hue (ISO 3664:2009 asks for a neutral surround of moderate luminance).
inline constexpr QColor kWell{0x22, 0x22, 0x22};    // plots, a field in edit, tips
inline constexpr QColor kGround{0x2b, 0x2b, 0x2b};  // instruments, window
inline constexpr QColor kLoom{0x2f, 0x2f, 0x2f};
inline constexpr QColor kRaised{0x38, 0x38, 0x38};  // worklist, field, row in hand
inline constexpr QColor kHover{0x43, 0x43, 0x43};
inline constexpr QColor kPressed{0x50, 0x50, 0x50};  // a field that is dragged
inline constexpr QColor kHairline{0x45, 0x45, 0x45};
inline constexpr QColor kRail{0x58, 0x58, 0x58};  // behind thumbnails
inline constexpr QColor kEasel{0x65, 0x65, 0x65};
inline constexpr QColor kText1{0xf2, 0xf2, 0xf2};
inline constexpr QColor kText2{0xc8, 0xc8, 0xc8};
inline constexpr QColor kText3{0xa8, 0xa8, 0xa8};
inline constexpr QColor kTextOff{0x8c, 0x8c, 0x8c};  // disabled
inline constexpr QColor kMark{0xff, 0xff, 0xff};     // selection, the pair in hand, what is above its mark
inline constexpr QColor kRibbon{0xb0, 0xb0, 0xb0};
inline constexpr QColor kAccent{0xbb, 0xa9, 0xec};  // to check, focus, touched; never in loom or easel

inline constexpr int kFieldRadius = 3, kButtonRadius = 4;

enum class Weight { kRegular, kMedium, kStrong };
// Inter where it is installed (the system's sans elsewhere), `px` high. Main thread only.
const QFont& Font(int px, Weight weight = Weight::kRegular);

// Heights of the bands and the side margin for a window of this size; the easel takes the rest.
struct Bands {
  int worklist, names, edge, strip, ribbons, left_over, instruments;
  int margin, gutter;
  bool narrow;  // below 1400 wide: less is written out
  int loom() const { return names + edge + 2 * strip + ribbons + left_over; }
};
Bands BandsFor(int width, int height);

// Ground of a light: a dark grey that leans to the colour of the light. `open` 0..1.
QColor LightTint(double mired, double open);

// WCAG 2.2 contrast ratio, 1..21, of opaque colours.
double Contrast(const QColor& a, const QColor& b);

// False where the system or the person asks for no motion; durations are 0 then.
bool Motion();
void SetMotion(bool on);
inline constexpr int kPleatMs = 180;

// Palette and style sheet for the few stock controls (menus, tips, scroll bars, text fields).
void Apply();

}  // namespace samelight::window::theme
