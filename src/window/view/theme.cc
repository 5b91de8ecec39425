#include "window/view/theme.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include <QtGui/QFontDatabase>
#include <QtGui/QPalette>
#include <QtWidgets/QApplication>
#include <QtWidgets/QStyleFactory>

#include "color/lab.h"
#include "color/space.h"

namespace samelight::window::theme {
namespace {

bool motion = true;

int Between(int low, int high, double t) { return static_cast<int>(std::lround(low + (high - low) * t)); }

double Luminance(const QColor& c) {
  // WCAG 2.2, "relative luminance".
  const auto linear = [](double v) { return v <= 0.04045 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4); };
  return 0.2126 * linear(c.redF()) + 0.7152 * linear(c.greenF()) + 0.0722 * linear(c.blueF());
}

}  // namespace

const QFont& Font(int px, Weight weight) {
  static std::map<std::pair<int, int>, QFont> made;
  const auto key = std::pair(px, static_cast<int>(weight));
  auto it = made.find(key);
  if (it == made.end()) {
    static const bool inter = QFontDatabase::families().contains(QStringLiteral("Inter"));
    QFont font =
        inter ? QFont(QStringLiteral("Inter")) : QFontDatabase::systemFont(QFontDatabase::GeneralFont);
    if (!inter) font.setStyleHint(QFont::SansSerif);
    font.setPixelSize(px);
    font.setWeight(weight == Weight::kRegular  ? QFont::Normal
                   : weight == Weight::kMedium ? QFont::Medium
                                               : QFont::DemiBold);
    font.setHintingPreference(QFont::PreferNoHinting);
    it = made.emplace(key, font).first;
  }
  return it->second;
}

Bands BandsFor(int width, int height) {
  const double t = std::clamp((height - 800) / 200.0, 0.0, 1.0);
  Bands b{};
  b.worklist = Between(44, 52, t);
  b.names = Between(34, 36, t);
  b.edge = Between(15, 16, t);
  b.strip = Between(42, 56, t);
  b.ribbons = Between(46, 66, t);
  b.left_over = Between(21, 26, t);
  b.instruments = Between(240, 288, t);
  b.narrow = width < 1400;
  b.margin = b.narrow ? 16 : 24;
  b.gutter = b.narrow ? 66 : 78;
  return b;
}

QColor LightTint(double mired, double open) {
  const double away = mired - 169;
  const double strength = 0.6 + 0.9 * open;
  const double a = std::clamp(0.012 * away, -1.2, 2.4) * strength;
  const double b = std::clamp(0.052 * away, -6.0, 8.0) * strength;
  const Vec3 linear = Mul(color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020),
                          color::Rec2020FromLab({28 + 6 * open, a, b}));
  const auto code = [](double v) { return std::clamp(color::Encode(color::Space::kSrgb, v), 0.0, 1.0); };
  return QColor::fromRgbF(static_cast<float>(code(linear[0])), static_cast<float>(code(linear[1])),
                          static_cast<float>(code(linear[2])));
}

double Contrast(const QColor& a, const QColor& b) {
  const double x = Luminance(a), y = Luminance(b);
  return (std::max(x, y) + 0.05) / (std::min(x, y) + 0.05);
}

bool Motion() { return motion; }
void SetMotion(bool on) { motion = on; }

void Apply() {
  QApplication::setStyle(QStyleFactory::create(QStringLiteral("Fusion")));
  QPalette p;
  p.setColor(QPalette::Window, kGround);
  p.setColor(QPalette::WindowText, kText1);
  p.setColor(QPalette::Base, kWell);
  p.setColor(QPalette::AlternateBase, kRaised);
  p.setColor(QPalette::Text, kText1);
  p.setColor(QPalette::Button, kRaised);
  p.setColor(QPalette::ButtonText, kText1);
  p.setColor(QPalette::ToolTipBase, kWell);
  p.setColor(QPalette::ToolTipText, kText1);
  p.setColor(QPalette::PlaceholderText, kText3);
  p.setColor(QPalette::Highlight, kAccent);
  p.setColor(QPalette::HighlightedText, kWell);
  p.setColor(QPalette::Link, kText1);
  for (const QPalette::ColorRole role : {QPalette::WindowText, QPalette::Text, QPalette::ButtonText})
    p.setColor(QPalette::Disabled, role, kTextOff);
  QApplication::setPalette(p);
  QApplication::setFont(Font(13));
  qApp->setStyleSheet(QStringLiteral(
      "QToolTip{background:#222222;color:#f2f2f2;border:1px solid #454545;padding:4px 6px}"
      "QMenu{background:#2b2b2b;border:1px solid #454545;padding:6px 0}"
      "QMenu::item{padding:6px 28px 6px 16px;color:#f2f2f2}"
      "QMenu::item:selected{background:#434343}"
      "QMenu::item:disabled{color:#8c8c8c}"
      "QMenu::separator{height:1px;background:#454545;margin:6px 0}"
      "QLineEdit,QPlainTextEdit{background:#222222;color:#f2f2f2;border:1px solid #454545;border-radius:3px;"
      "padding:4px 6px;selection-background-color:#5d5576;selection-color:#f2f2f2}"
      "QLineEdit:focus,QPlainTextEdit:focus{border:1px solid #bba9ec}"
      "QComboBox{background:#383838;color:#f2f2f2;border:1px solid #454545;border-radius:3px;padding:4px 8px}"
      "QComboBox:focus{border:1px solid #bba9ec}"
      "QComboBox::drop-down{border:0;width:20px}"
      "QComboBox QAbstractItemView{background:#2b2b2b;color:#f2f2f2;selection-background-color:#434343;"
      "selection-color:#f2f2f2;border:1px solid #454545;outline:0}"
      "QCheckBox{spacing:10px}QCheckBox::indicator{width:16px;height:16px}"
      "QScrollBar:vertical{background:transparent;width:10px;margin:0}"
      "QScrollBar::handle:vertical{background:#585858;border-radius:3px;min-height:24px;margin:2px}"
      "QScrollBar::add-line,QScrollBar::sub-line{height:0;width:0}"
      "QScrollBar::add-page,QScrollBar::sub-page{background:transparent}"));
}

}  // namespace samelight::window::theme
