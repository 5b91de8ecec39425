#include "window/view/theme.h"

#include <gtest/gtest.h>

namespace samelight::window::theme {
namespace {

// Web Content Accessibility Guidelines 2.2, success criterion 1.4.3 (level AA): 4.5 for text, 3 for large
// text; 1.4.11: 3 for marks that carry meaning.
constexpr double kText = 4.5, kMarks = 3;

TEST(ThemeTest, ContrastAsWcagDefinesIt) {
  EXPECT_NEAR(Contrast(QColor(0, 0, 0), QColor(255, 255, 255)), 21, 1e-9);
  // Worked pair of the guidelines' techniques (G18): #777777 on white is 4.48, just below.
  EXPECT_NEAR(Contrast(QColor(0x77, 0x77, 0x77), QColor(255, 255, 255)), 4.48, 0.005);
}

TEST(ThemeTest, TextIsReadableWhereItStands) {
  for (const QColor& ground : {kWell, kGround, kLoom, kRaised, kHover})
    for (const QColor& text : {kText1, kText2})
      EXPECT_GE(Contrast(text, ground), kText)
          << text.name().toStdString() << " on " << ground.name().toStdString();
  for (const QColor& ground : {kWell, kGround, kLoom, kRaised}) {
    EXPECT_GE(Contrast(kText3, ground), kText) << ground.name().toStdString();
    EXPECT_GE(Contrast(kAccent, ground), kText) << ground.name().toStdString();
  }
  EXPECT_GE(Contrast(kText2, kPressed), kText) << "the unit of a field that is dragged";
  EXPECT_GE(Contrast(kText1, kPressed), kText);
  // The strong button: dark words on light grey.
  for (const QColor& ground : {QColor(0xe2, 0xe2, 0xe2), kText2, kMark}) {
    EXPECT_GE(Contrast(kWell, ground), kText);
    EXPECT_GE(Contrast(QColor(0x4a, 0x4a, 0x4a), ground), kText);
  }
  EXPECT_GE(Contrast(kText1, QColor(0x5d, 0x55, 0x76)), kText) << "text that is chosen in a field";
  EXPECT_GE(Contrast(kText1, kEasel), kText) << "the only text on the easel";
  EXPECT_GE(Contrast(kTextOff, kGround), kText - 0.5) << "what is disabled can still be read";
}

TEST(ThemeTest, NamesAreReadableOnEveryLight) {
  for (double mired = 80; mired <= 600; mired += 10)
    for (const double open : {0.0, 0.5, 1.0}) {
      const QColor tint = LightTint(mired, open);
      EXPECT_GE(Contrast(kText1, tint), kText) << mired;
      EXPECT_GE(Contrast(kText2, tint), kText) << mired << " open " << open;
      EXPECT_GE(Contrast(kRibbon, tint), kMarks) << mired;
    }
}

TEST(ThemeTest, GreysAreGreysAndLightsLean) {
  for (const QColor& grey :
       {kWell, kGround, kLoom, kRaised, kHover, kHairline, kRail, kEasel, kText1, kText2, kText3})
    EXPECT_TRUE(grey.red() == grey.green() && grey.green() == grey.blue());
  const QColor warm = LightTint(440, 1), cool = LightTint(120, 1);
  EXPECT_GT(warm.red(), warm.blue() + 8);
  EXPECT_GT(cool.blue(), cool.red() + 2);
  const QColor day = LightTint(169, 0);
  EXPECT_LE(std::abs(day.red() - day.blue()), 2);
}

TEST(ThemeTest, BandsLeaveTheEaselMostOfTheWindow) {
  const Bands large = BandsFor(1600, 1000), small = BandsFor(1280, 800);
  EXPECT_EQ(large.worklist, 52);
  EXPECT_EQ(small.worklist, 44);
  EXPECT_EQ(large.instruments, 288);
  EXPECT_GE(1000 - large.worklist - large.loom() - large.instruments, 400);
  EXPECT_GE(800 - small.worklist - small.loom() - small.instruments, 300);
  EXPECT_TRUE(small.narrow);
  EXPECT_FALSE(large.narrow);
}

}  // namespace
}  // namespace samelight::window::theme
