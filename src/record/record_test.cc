#include <gtest/gtest.h>

#include <set>
#include <string>

#include "record/correction.h"
#include "record/pair.h"
#include "record/photo.h"
#include "record/region.h"

namespace samelight::record {
namespace {

// The session file and report.json hold these words: changing one breaks what others have written.
TEST(Names, AreTheWordsOfTheContracts) {
  EXPECT_STREQ(Name(Role::kScan), "scan");
  EXPECT_STREQ(Name(Role::kFrame), "frame");
  EXPECT_STREQ(Name(Encoding::kRaw), "raw");
  EXPECT_STREQ(Name(Encoding::kJpeg), "jpeg");
  EXPECT_STREQ(Name(Encoding::kTiff), "tiff");
  EXPECT_STREQ(Name(Encoding::kPng), "png");
  EXPECT_STREQ(Name(PairKind::kMoment), "moment");
  EXPECT_STREQ(Name(PairKind::kLight), "light");
  EXPECT_STREQ(Name(PairKind::kNone), "none");
}

TEST(Names, EveryRegionHasItsOwn) {
  std::set<std::string> names = {Name(RegionKind::kOther), Name(RegionKind::kMasked)};
  for (const RegionKind kind : kAllRegions) names.insert(Name(kind));
  EXPECT_EQ(names.size(), kAllRegions.size() + 2);
}

// A camera's raw files and its JPEG files differ in colour and tone; its TIFF and PNG files are
// display-referred too.
TEST(SourceName, TellsBodiesAndKindsOfFileApart) {
  Photo photo;
  photo.capture.body = "Heron 2";
  photo.encoding = Encoding::kRaw;
  EXPECT_EQ(SourceName(photo), "Heron 2 raw");
  photo.encoding = Encoding::kJpeg;
  EXPECT_EQ(SourceName(photo), "Heron 2 jpeg");
  const std::string first = SourceName(photo);
  photo.capture.serial = "17";
  EXPECT_NE(SourceName(photo), first);
  EXPECT_EQ(BodyName(photo), "Heron 2 17");
  EXPECT_EQ(SourceName(Photo{}), "unknown body jpeg");
}

// Nothing is applied by a correction that says nothing.
TEST(Correction, StartsFromNothing) {
  const Correction c;
  EXPECT_EQ(c.look.m1, kIdentity3);
  EXPECT_EQ(c.look.m2, kIdentity3);
  EXPECT_EQ(c.unify.matrix, kIdentity3);
  EXPECT_EQ(c.unify.exposure_log10, 0);
  EXPECT_EQ(c.offset_log10, (Vec3{0, 0, 0}));
  for (const HueBump& bump : c.look.bumps) {
    EXPECT_EQ(bump.hue_deg, 0);
    EXPECT_EQ(bump.chroma, 0);
    EXPECT_EQ(bump.lightness, 0);
  }
  EXPECT_EQ(c.touch.exposure_ev, 0);
  EXPECT_FALSE(c.frame.valid());
}

}  // namespace
}  // namespace samelight::record
