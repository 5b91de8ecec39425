#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <map>

#include "measure/face_net.h"
#include "measure/testing.h"

namespace samelight::measure {
namespace {

const std::filesystem::path kModel = std::filesystem::path(SAMELIGHT_ASSETS_DIR) / "models/blazeface.onnx";

// Kept, because several tests look at the same photographs.
const image::RgbU8& ReadSrgb(const std::string& name) {
  static std::map<std::string, image::RgbU8> read;
  const auto [at, added] = read.try_emplace(name);
  if (added) at->second = NeutralRendering(ReadAsset(name), false);
  return at->second;
}

struct Place {
  double x, y;
};

// Middles of faces, as fractions, read off the photographs by eye.
struct Portrait {
  const char* name;
  std::vector<Place> faces;
};
const std::vector<Portrait> kPeople = {
    {"people/sample1.jpg", {{0.268, 0.394}, {0.488, 0.435}, {0.816, 0.268}}},
    {"people/sample2.jpg", {{0.25, 0.14}, {0.56, 0.26}, {0.81, 0.22}}},
    {"people/sample3.jpg", {{0.36, 0.36}, {0.62, 0.28}, {0.82, 0.35}}},
    {"people/sample4.jpg", {{0.17, 0.23}, {0.395, 0.145}, {0.56, 0.225}, {0.715, 0.2}}},
    {"people/sample5.jpg", {{0.447, 0.174}, {0.35, 0.396}, {0.793, 0.39}, {0.627, 0.25}, {0.24, 0.744}}},
    {"people/sample6.jpg", {{0.18, 0.42}, {0.404, 0.32}, {0.66, 0.305}, {0.826, 0.285}}},
};

// Photographs without a person; the cat and the dogs among them are the hard ones.
const std::vector<const char*> kFaceless = {
    "photos/Bridge_by_Sander_Klootwijk.jpg",
    "photos/Dragonfly_by_Bolly.jpg",
    "photos/Picture_0B_by_freespace.jpg",
    "photos/Picture_1A_by_freespace.jpg",
    "photos/Wine_by_Jakkub_Mede.jpg",
    "photos/aitzgorri_by_Aitzol_Berasategi.jpg",
    "photos/free_by_Peter_Nerlich.jpg",
    "photos/friends_by_Aitzol_Berasategi.jpg",
    "photos/greentock_by_Peter_Nerlich.jpg",
    "photos/life_by_Aitzol_Berasategi.jpg",
    "photos/picosdeeuropa_by_Aitzol_Berasategi.jpg",
    "photos/seeding_by_Clements_Engelhardt.jpg",
    "photos/sunset_by_Aitzol_Berasategi.jpg",
    "photos/blossom.png",
    "photos/chelsea.png",
    "photos/coffee.png",
    "photos/flower.png",
    "photos/lake.png",
    "photos/room_hlg.png",
    "photos/tulips.png",
};

bool Holds(const record::Face& f, const Place& p) {
  return f.left < p.x && p.x < f.right && f.top < p.y && p.y < f.bottom;
}

TEST(FaceNet, FindsEveryFaceOfTheGroups) {
  Result<std::unique_ptr<FaceFinder>> finder = OpenFaceNet(kModel);
  if (!finder.ok()) GTEST_SKIP() << finder.error().Text();
  int seen = 0;
  for (const Portrait& p : kPeople) {
    const image::RgbU8& picture = ReadSrgb(p.name);
    if (picture.empty()) continue;
    ++seen;
    const std::vector<record::Face> faces = (*finder)->Find(picture);
    EXPECT_EQ(faces.size(), p.faces.size()) << p.name;
    for (const Place& place : p.faces)
      EXPECT_EQ(std::count_if(faces.begin(), faces.end(), [&](const auto& f) { return Holds(f, place); }), 1)
          << p.name << " at " << place.x << " " << place.y;
    for (const record::Face& f : faces) {
      EXPECT_GE(f.score, 0.7);
      EXPECT_LE(f.score, 1.0);
    }
  }
  if (seen == 0) GTEST_SKIP() << "no photographs of people; run scripts/fetch-assets";
}

TEST(FaceNet, FindsNoFaceWhereThereIsNone) {
  Result<std::unique_ptr<FaceFinder>> finder = OpenFaceNet(kModel);
  if (!finder.ok()) GTEST_SKIP() << finder.error().Text();
  int seen = 0;
  for (const char* name : kFaceless) {
    const image::RgbU8& picture = ReadSrgb(name);
    if (picture.empty()) continue;
    ++seen;
    EXPECT_TRUE((*finder)->Find(picture).empty()) << name;
  }
  if (seen == 0) GTEST_SKIP() << "no photographs; run scripts/fetch-assets";
  RecordProperty("photographs", seen);
}

TEST(FaceNet, FindsASmallFaceThroughWindows) {
  Result<std::unique_ptr<FaceFinder>> finder = OpenFaceNet(kModel);
  if (!finder.ok()) GTEST_SKIP() << finder.error().Text();
  const image::RgbF portrait = ReadAsset("photos/astronaut.png");
  if (portrait.empty()) GTEST_SKIP() << "no portrait; run scripts/fetch-assets";
  // The portrait as a small part of a grey picture: the face is 32 px of 2048, 4 px at the size of the
  // network.
  const image::RgbF small = image::ShrinkTo(portrait, 256);
  image::RgbF wide(2048, 1365);
  for (float& v : wide.data()) v = 0.2f;
  const int left = 700, top = 500;
  for (int y = 0; y < small.height(); ++y)
    for (int x = 0; x < small.width(); ++x) std::copy_n(small.at(x, y), 3, wide.at(left + x, top + y));
  const std::vector<record::Face> faces = (*finder)->Find(NeutralRendering(wide, false));
  ASSERT_EQ(faces.size(), 1u);
  EXPECT_TRUE(Holds(faces[0], {(left + 0.44 * 256) / 2048, (top + 0.25 * 256) / 1365}));
}

TEST(FaceFinder, BothKindsFindThePortrait) {
  const image::RgbU8& portrait = ReadSrgb("photos/astronaut.png");
  if (portrait.empty()) GTEST_SKIP() << "no portrait; run scripts/fetch-assets";
  int kinds = 0;
  for (const auto open : {+[] { return OpenFaceNet(kModel); }, +[] { return OpenGradientFaces(); }}) {
    Result<std::unique_ptr<FaceFinder>> finder = open();
    if (!finder.ok()) continue;
    ++kinds;
    const std::vector<record::Face> faces = (*finder)->Find(portrait);
    ASSERT_EQ(faces.size(), 1u) << (*finder)->KindOfModel();
    EXPECT_TRUE(Holds(faces[0], {0.44, 0.25})) << (*finder)->KindOfModel();
  }
  if (kinds < 2) GTEST_SKIP() << "only " << kinds << " of two kinds at hand";
}

TEST(GradientFaces, FindsMostFacesOfTheGroupsAndNoneElsewhere) {
  Result<std::unique_ptr<FaceFinder>> finder = OpenGradientFaces();
  if (!finder.ok()) GTEST_SKIP() << finder.error().Text();
  int wanted = 0, found = 0;
  for (const Portrait& p : kPeople) {
    const image::RgbU8& picture = ReadSrgb(p.name);
    if (picture.empty()) continue;
    const std::vector<record::Face> faces = (*finder)->Find(picture);
    for (const Place& place : p.faces) {
      ++wanted;
      found += std::any_of(faces.begin(), faces.end(), [&](const auto& f) { return Holds(f, place); });
    }
    EXPECT_LE(faces.size(), p.faces.size()) << p.name;
  }
  if (wanted == 0) GTEST_SKIP() << "no photographs of people; run scripts/fetch-assets";
  EXPECT_GE(found, 15) << "of " << wanted;
  for (const char* name : kFaceless)
    if (const image::RgbU8& picture = ReadSrgb(name); !picture.empty())
      EXPECT_TRUE((*finder)->Find(picture).empty()) << name;
}

TEST(FaceFinder, OpensTheOtherKindWithoutTheModel) {
  Result<std::unique_ptr<FaceFinder>> finder = FaceFinder::Open("/nonexistent/blazeface.onnx");
  if (!finder.ok()) GTEST_SKIP() << finder.error().Text();
  EXPECT_EQ((*finder)->KindOfModel(), "gradient histograms");
}

TEST(FaceFinder, NamesAModelThatIsNone) {
  const std::filesystem::path file = std::filesystem::temp_directory_path() / "samelight_not_a_model.onnx";
  std::ofstream(file) << "not a model";
  Result<std::unique_ptr<FaceFinder>> finder = FaceFinder::Open(file);
  std::filesystem::remove(file);
  ASSERT_FALSE(finder.ok());
  EXPECT_EQ(finder.error().code, ErrorCode::kDamaged);
}

TEST(FaceFinder, TakesPicturesOfAnyShape) {
  Result<std::unique_ptr<FaceFinder>> finder = OpenFaceNet(kModel);
  if (!finder.ok()) GTEST_SKIP() << finder.error().Text();
  for (const auto& [w, h] : {std::pair{1, 1}, {16, 3000}, {3000, 16}, {17, 17}, {300, 40}})
    EXPECT_TRUE((*finder)->Find(NeutralRendering(PaintedScene(w, h, 5), false)).empty()) << w << "x" << h;
}

}  // namespace
}  // namespace samelight::measure
