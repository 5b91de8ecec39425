#include "window/view/keys.h"

#include <QtCore/QObject>

namespace samelight::window {

const std::vector<KeyGroup>& AllKeys() {
  const auto t = [](const char* text) { return QObject::tr(text); };
  static const std::vector<KeyGroup> all = {
      {t("Everywhere"),
       {{t("Page Down, Page Up"), t("next, previous to check")},
        {t("Enter"), t("settle, and go on")},
        {t("F6, Shift F6"), t("next, previous band")},
        {t("Tab"), t("next control")},
        {t("Ctrl Z, Ctrl Shift Z"), t("undo, redo")},
        {t("C"), t("carry the touch")},
        {t("Ctrl L"), t("carry the touch (in a field: this handle) to the light")},
        {t("L"), t("lay out the light, or what is chosen, as a sheet")},
        {t("Ctrl N, Ctrl O"), t("new session, open a session")},
        {t("U"), t("bring pairs and corrections up to date")},
        {t("Ctrl D"), t("deliver")},
        {t("F1"), t("this sheet")},
        {t("Esc"), t("let go, close")}}},
      {t("Easel"),
       {{t("S, W"), t("side by side, wipe")},
        {t("F held"), t("flicker between scan and frame")},
        {t("B held"), t("before: as the camera made it")},
        {t("N, M"), t("settled neighbour, camera's picture beside")},
        {t("+, −, 0"), t("nearer, further, all of it")},
        {t("H"), t("hatch clipped and out-of-range colours")},
        {t("Arrows"), t("move what is seen")}}},
      {t("Sheet"),
       {{t("Arrows"), t("take another in hand; with Shift choose a run")},
        {t("Space"), t("choose, or no longer")},
        {t("L, Esc"), t("back to the easel")}}},
      {t("Loom"),
       {{t("Left, Right"), t("walk along scans, pairs or frames")},
        {t("Shift, Ctrl"), t("choose a run, choose one by one")},
        {t("Space"), t("pick up a ribbon or a loose end")},
        {t("Enter, Esc"), t("tie it, let it go")},
        {t("Delete"), t("cut a ribbon")},
        {t("A"), t("frames that the scan in hand could belong to")},
        {t("Menu key"), t("names, lights, rolls, framing")},
        {t("Wheel"), t("walk along; with Ctrl open or shut a pleat")}}},
      {t("Instruments"),
       {{t("Arrows"), t("move a dot, a grip, a value; Shift in big steps")},
        {t("Space"), t("next dot; next triangle of the follow line")},
        {t("Shift, Alt"), t("while a dot is dragged: hue stays, chroma stays")},
        {t("Figures"), t("type a value; +0.3 adds, =−0.3 sets")},
        {t("Backspace"), t("back to the solved value")},
        {t("Menu key"), t("more ways back")}}},
  };
  return all;
}

}  // namespace samelight::window
