// Raw files that differ from what our own writer makes: exiftool and libtiff turn its files into them.
// Cameras and scenes are invented.
#include "codec/raw.h"

#include <gtest/gtest.h>
#include <tiffio.h>

#include "codec/read.h"
#include "codec/testing.h"

namespace samelight::codec {
namespace {

using testing::Folder;

Vec3 Scene(int x, int y) { return testing::QuarterRec2020((y >= 24) * 2 + (x >= 40)); }

std::filesystem::path Written(const Folder& folder, const DngSpec& spec,
                              const image::Raster<std::uint16_t, 1>& bayer,
                              const std::string& exiftool_options) {
  const auto file = folder / "a.dng";
  EXPECT_TRUE(WriteDng(file, bayer, spec).ok());
  EXPECT_EQ(testing::Run("exiftool -q -q -n -overwrite_original " + exiftool_options + " " + file.string()),
            "");
  return file;
}

void ExpectScene(const Picture& picture, double bound) {
  for (int at = 0; at < 4; ++at) {
    const Vec3 got = testing::QuarterColour(picture.pixels, at);
    EXPECT_LT(testing::Difference(got, testing::QuarterRec2020(at)), bound)
        << at << ": " << got[0] << ' ' << got[1] << ' ' << got[2];
  }
}

TEST(Raw, WithoutAMatrixNeutralsStayNeutralAndItSaysSo) {
  Folder folder;
  const DngSpec spec = testing::CameraSpec();
  const auto file =
      Written(folder, spec, testing::Mosaic(spec, 80, 48, Scene), "-ColorMatrix1= -CalibrationIlluminant1=");
  const auto picture = ReadPicture(file);
  ASSERT_TRUE(picture.ok()) << picture.error().Text();
  EXPECT_TRUE(picture->photo.profile_assumed);
  EXPECT_NE(picture->photo.profile_name.find("no camera matrix"), std::string::npos);
  EXPECT_LT(testing::Difference(testing::QuarterColour(picture->pixels, 3), testing::QuarterRec2020(3)), 0.1);
}

TEST(Raw, WithoutAsShotTheDaylightBalanceIsTaken) {
  Folder folder;
  const DngSpec spec = testing::CameraSpec();
  const auto picture =
      ReadPicture(Written(folder, spec, testing::Mosaic(spec, 80, 48, Scene), "-AsShotNeutral="));
  ASSERT_TRUE(picture.ok()) << picture.error().Text();
  for (std::size_t c = 0; c < 3; ++c)
    EXPECT_NEAR(picture->photo.raw.as_shot[c], picture->photo.raw.daylight[c], 1e-6);
  ExpectScene(*picture, 0.1);
}

TEST(Raw, TheDaylightOneOfTwoMatricesIsTaken) {
  Folder folder;
  const DngSpec spec = testing::CameraSpec();
  std::string second = "-ColorMatrix2='";
  for (const auto& row : spec.camera_from_xyz)
    for (const double v : row) second += std::to_string(v) + " ";
  const auto picture =
      ReadPicture(Written(folder, spec, testing::Mosaic(spec, 80, 48, Scene),
                          "-CalibrationIlluminant1=17 -ColorMatrix1='0.9 0.1 -0.1 0.1 0.8 0.2 0.1 0.1 0.4'"
                          " -CalibrationIlluminant2=21 " +
                              second + "'"));
  ASSERT_TRUE(picture.ok()) << picture.error().Text();
  ExpectScene(*picture, 0.1);
}

// A whole-frame calibration of the single camera, and gains that were applied before the counts were stored.
TEST(Raw, CameraCalibrationAndAnalogBalanceCount) {
  Folder folder;
  const DngSpec spec = testing::CameraSpec();
  std::string matrix = "-ColorMatrix1='";
  const double balance[3] = {1.25, 1, 0.8}, calibration[3] = {1.1, 1, 0.9};
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j)
      matrix += std::to_string(spec.camera_from_xyz[i][j] / balance[i] / calibration[i]) + " ";
  const auto picture = ReadPicture(Written(folder, spec, testing::Mosaic(spec, 80, 48, Scene),
                                           matrix + "' -AnalogBalance='1.25 1 0.8'"
                                                    " -CameraCalibration1='1.1 0 0 0 1 0 0 0 0.9'"));
  ASSERT_TRUE(picture.ok()) << picture.error().Text();
  ExpectScene(*picture, 0.1);
}

TEST(Raw, EveryPlaceOfThePatternHasItsBlack) {
  Folder folder;
  const DngSpec spec = testing::CameraSpec();
  auto bayer = testing::Mosaic(spec, 80, 48, Scene);
  const int black[4] = {500, 540, 580, 620};
  for (int y = 0; y < 48; ++y)
    for (int x = 0; x < 80; ++x)
      *bayer.at(x, y) = static_cast<std::uint16_t>(*bayer.at(x, y) - spec.black + black[y % 2 * 2 + x % 2]);
  const auto picture = ReadPicture(
      Written(folder, spec, bayer, "-IFD0:BlackLevelRepeatDim='2 2' -IFD0:BlackLevel='500 540 580 620'"));
  ASSERT_TRUE(picture.ok()) << picture.error().Text();
  // One white level for four blacks: the levels differ by up to 0.7 %.
  ExpectScene(*picture, 0.6);
}

// Three colours in every pixel ("LinearRaw"), as some film scanners and merged pictures are stored.
TEST(Raw, LinearRaw) {
  Folder folder;
  const DngSpec spec = testing::CameraSpec();
  const auto file = folder / "l.dng";
  const Mat3 camera_from_rec2020 = Mul(spec.camera_from_xyz, color::XyzFromRgb(color::Space::kRec2020));
  const double green = Mul(camera_from_rec2020, Vec3{1, 1, 1})[1];
  TIFF* t = TIFFOpen(file.c_str(), "w");
  ASSERT_NE(t, nullptr);
  TIFFSetField(t, TIFFTAG_SUBFILETYPE, 0);
  TIFFSetField(t, TIFFTAG_IMAGEWIDTH, 80);
  TIFFSetField(t, TIFFTAG_IMAGELENGTH, 48);
  TIFFSetField(t, TIFFTAG_BITSPERSAMPLE, 16);
  TIFFSetField(t, TIFFTAG_SAMPLESPERPIXEL, 3);
  TIFFSetField(t, TIFFTAG_PHOTOMETRIC, 34892);
  TIFFSetField(t, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
  TIFFSetField(t, TIFFTAG_ROWSPERSTRIP, 48);
  TIFFSetField(t, TIFFTAG_MAKE, "Invented");
  TIFFSetField(t, TIFFTAG_MODEL, "Scanner");
  TIFFSetField(t, TIFFTAG_UNIQUECAMERAMODEL, "Invented Scanner");
  const std::uint8_t version[4] = {1, 4, 0, 0};
  TIFFSetField(t, TIFFTAG_DNGVERSION, version);
  TIFFSetField(t, TIFFTAG_CALIBRATIONILLUMINANT1, 21);
  float matrix[9], neutral[3];
  for (int i = 0; i < 9; ++i)
    matrix[i] = static_cast<float>(spec.camera_from_xyz[std::size_t(i / 3)][std::size_t(i % 3)]);
  for (std::size_t i = 0; i < 3; ++i) neutral[i] = static_cast<float>(spec.as_shot_neutral[i]);
  TIFFSetField(t, TIFFTAG_COLORMATRIX1, std::uint16_t{9}, matrix);
  TIFFSetField(t, TIFFTAG_ASSHOTNEUTRAL, std::uint16_t{3}, neutral);
  for (int y = 0; y < 48; ++y) {
    std::vector<std::uint16_t> row;
    for (int x = 0; x < 80; ++x)
      for (const double v : Mul(camera_from_rec2020, Scene(x, y)))
        row.push_back(static_cast<std::uint16_t>(std::lround(v / green * 65535)));
    ASSERT_EQ(TIFFWriteScanline(t, row.data(), static_cast<std::uint32_t>(y), 0), 1);
  }
  TIFFClose(t);
  const auto picture = ReadPicture(file);
  ASSERT_TRUE(picture.ok()) << picture.error().Text();
  EXPECT_TRUE(picture->scene_referred);
  ExpectScene(*picture, 0.1);
}

TEST(Raw, TheStandardsCropIsReadUpright) {
  Folder folder;
  DngSpec spec = testing::CameraSpec();
  for (const int orientation : {1, 6}) {
    spec.orientation = orientation;
    const auto facts =
        ReadFacts(Written(folder, spec, testing::Mosaic(spec, 80, 48, Scene),
                          "-IFD0:DefaultUserCrop='0.1 0.2 0.7 0.9'"));  // top, left, bottom, right
    ASSERT_TRUE(facts.ok());
    ASSERT_TRUE(facts->crop.has_value());
    const auto& c = *facts->crop;
    // Orientation 6 turns the stored picture by 90 degrees clockwise: its left side becomes the top, its top
    // the right side.
    const double want[2][4] = {{0.2, 0.1, 0.9, 0.7}, {0.3, 0.2, 0.9, 0.9}};
    const double* w = want[orientation == 6];
    EXPECT_NEAR(c.left, w[0], 1e-5);
    EXPECT_NEAR(c.top, w[1], 1e-5);
    EXPECT_NEAR(c.right, w[2], 1e-5);
    EXPECT_NEAR(c.bottom, w[3], 1e-5);
    EXPECT_EQ(c.angle_deg, 0);
  }
}

}  // namespace
}  // namespace samelight::codec
