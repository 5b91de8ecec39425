// Delivered files as programs that share no code with ours see them: exiftool, and the decoders of ffmpeg,
// which has its own for JPEG, TIFF and PNG.
#include <gmock/gmock.h>

#include <algorithm>
#include <cstdio>
#include <cstring>

#include "job/delivery_testing.h"
#include "render/render.h"

namespace samelight::job {
namespace {

using testing::BytesOf;
using ::testing::ContainsRegex;
using testing::DeliveryTest;
using testing::FilesBelow;
using ::testing::HasSubstr;
using ::testing::Not;

// Output of a command; empty when it cannot be run.
std::string Output(const std::string& command) {
  std::string text;
  FILE* pipe = ::popen(command.c_str(), "r");
  if (pipe == nullptr) return text;
  char part[4096];
  while (const std::size_t got = std::fread(part, 1, sizeof part, pipe)) text.append(part, got);
  ::pclose(pipe);
  return text;
}

class DeliveredFilesTest : public DeliveryTest {
 protected:
  // One frame, its metadata as exiftool wrote it: turned, with a place, a thumbnail and a copyright.
  void MakeTurned() {
    Make(1, 0, 120, 80);
    const fs::path original = FrameFile(1), small = folder_ / "small.jpg";
    WriteJpeg(small, 40, 20, 5);
    ASSERT_THAT(Output("exiftool -overwrite_original -n -Orientation=6 -GPSLatitude=47.5 -GPSLatitudeRef=N "
                       "-GPSLongitude=8.5 -GPSLongitudeRef=E -IPTC:City=Mill -XMP:City=Mill -Copyright='A B' "
                       "-Artist='A' -FNumber=2 -DateTimeOriginal='2024:06:01 15:00:00' '-ThumbnailImage<=" +
                       small.string() + "' '" + original.string() + "' 2>&1"),
                HasSubstr("1 image files updated"));
    SilentProgress silent;
    ASSERT_TRUE(New({file(), {}, {folder_ / "digital"}}, {silent, Cancel()}).ok());
    const auto session = Open();
    auto photos = session->Photos();
    ContentHash hash;
    const auto bytes = BytesOf(original);
    hash.Add(bytes.data(), bytes.size());
    (*photos)[0].hash = hash.Hex();
    auto change = session->Begin();
    ASSERT_TRUE(change->Put((*photos)[0]).ok());
    ASSERT_TRUE(change->Commit().ok());
  }
  // Delivers with `fields`; the one file of it.
  fs::path Delivered(const OrderFieldWords& fields, const std::string& into) {
    DeliverOptions options;
    options.fields = {{"grain", "off"}};
    options.fields.insert(options.fields.end(), fields.begin(), fields.end());
    const auto answer = Deliver(options, into);
    EXPECT_TRUE(answer.ok() && answer->written == 1);
    return out() / into / FilesBelow(out() / into).begin()->first;
  }
  // The pixels that the session's correction gives, before they are encoded.
  template <class Pixels>
  Pixels Wanted() const {
    Pixels pixels;
    render::RenderOptions options;
    options.space = color::Space::kAdobeRgb;
    EXPECT_TRUE(render::Render(codec::ReadPicture(FrameFile(1))->pixels,
                               Open()->Match()->frames[0].correction, options, pixels)
                    .ok());
    return pixels;
  }
};

TEST_F(DeliveredFilesTest, ExiftoolSeesWhatWasOrdered) {
  if (Output("exiftool -ver 2>/dev/null").empty()) GTEST_SKIP() << "exiftool is not installed";
  MakeTurned();
  for (const std::string format : {"jpeg", "tiff8", "tiff16", "png", "png16"}) {
    SCOPED_TRACE(format);
    const fs::path made = Delivered({{"format", format},
                                     {"space", "adobe-rgb"},
                                     {"place", "dropped"},
                                     {"dpi", "254"},
                                     {"copyright", "C D"}},
                                    format);
    const std::string tags = Output("exiftool -j -n -G '" + made.string() + "'");
    const std::string size_group = format.starts_with("png") ? "PNG" : format == "jpeg" ? "File" : "EXIF";
    for (const std::string& wanted :
         {"\"" + size_group + ":ImageWidth\": 80", "\"" + size_group + ":ImageHeight\": 120",
          std::string("\"EXIF:Orientation\": 1"), std::string("\"EXIF:Copyright\": \"C D\""),
          std::string("\"EXIF:Artist\": \"A\""), std::string("\"EXIF:FNumber\": 2"),
          std::string("\"EXIF:DateTimeOriginal\": \"2024:06:01 15:00:00\""),
          std::string("\"EXIF:XResolution\": 254")})
      EXPECT_THAT(tags, HasSubstr(wanted));
    EXPECT_THAT(tags, ContainsRegex("ICC_Profile:ProfileDescription\": \"[^\"]*Adobe RGB"));
    for (const std::string gone : {"GPSLatitude", "IPTC:City", "XMP:City", "ThumbnailImage", "PreviewImage"})
      EXPECT_THAT(tags, Not(HasSubstr(gone)));
    const auto picture = codec::ReadPicture(made);
    ASSERT_TRUE(picture.ok());
    EXPECT_EQ(picture->photo.width_px, 80);
    EXPECT_EQ(picture->photo.height_px, 120);
    EXPECT_THAT(picture->photo.profile_name, HasSubstr("Adobe RGB"));
  }
  EXPECT_EQ(Output("exiftool -s3 -Artist -GPSLatitude -DateTimeOriginal '" +
                   Delivered({{"metadata", "none"}}, "bare").string() + "'"),
            "");
  EXPECT_THAT(Output("exiftool -s3 -n -GPSLatitude '" + Delivered({}, "kept").string() + "'"),
              HasSubstr("47.5"));
}

// Every sample of files without loss, of 16 bits too; of JPEG within what quality 100 costs.
TEST_F(DeliveredFilesTest, AnotherDecoderSeesThePixelsThatWereRendered) {
  if (Output("ffmpeg -version 2>/dev/null").empty()) GTEST_SKIP() << "ffmpeg is not installed";
  MakeTurned();
  const auto eight = Wanted<image::RgbU8>();
  const auto sixteen = Wanted<image::RgbU16>();
  ASSERT_EQ(eight.width(), 80);
  const std::string icc =
      Output("exiftool -b -ICC_Profile '" + Delivered({{"space", "adobe-rgb"}}, "icc").string() + "'");
  ASSERT_GT(icc.size(), 400u);
  for (const std::string format : {"jpeg", "tiff8", "png", "tiff16", "png16"}) {
    SCOPED_TRACE(format);
    const bool deep = format.ends_with("16");
    const fs::path made = Delivered({{"format", format}, {"space", "adobe-rgb"}, {"quality", "100"}}, format);
    const std::string told = Output(
        "ffprobe -v error -show_entries stream=width,height -show_frames -show_entries "
        "frame=side_data_list -of flat '" +
        made.string() + "'");
    EXPECT_THAT(told, HasSubstr("stream.0.width=80"));
    EXPECT_THAT(told, HasSubstr("stream.0.height=120"));
    EXPECT_THAT(told, HasSubstr("ICC profile"));
    EXPECT_THAT(told, HasSubstr(".size=" + std::to_string(icc.size())));
    EXPECT_THAT(told, Not(HasSubstr("rotation"))) << "nobody may turn it once more";
    const std::string raw = Output("ffmpeg -v error -i '" + made.string() +
                                   "' -sws_flags accurate_rnd+full_chroma_int -f rawvideo -pix_fmt " +
                                   (deep ? "rgb48le" : "rgb24") + " -");
    ASSERT_EQ(raw.size(), std::size_t{80} * 120 * 3 * (deep ? 2 : 1));
    const void* wanted = deep ? static_cast<const void*>(sixteen.data().data()) : eight.data().data();
    if (format != "jpeg") {
      EXPECT_EQ(std::memcmp(raw.data(), wanted, raw.size()), 0);
      continue;
    }
    int worst = 0;
    for (std::size_t i = 0; i < raw.size(); ++i)
      worst =
          std::max(worst, std::abs(static_cast<unsigned char>(raw[i]) - static_cast<int>(eight.data()[i])));
    EXPECT_LE(worst, 4);
  }
}

// What lies among a wedding's files without being like the others: all of it is delivered at its own size.
TEST_F(DeliveredFilesTest, OddPicturesComeOutAsTheyAre) {
  if (Output("ffmpeg -version 2>/dev/null").empty()) GTEST_SKIP() << "ffmpeg is not installed";
  const fs::path source = folder_ / "source.jpg";
  WriteJpeg(source, 320, 240, 3);
  struct Odd {
    std::string name, made_by;
    int width, height;
  };
  const std::vector<Odd> all = {{"grey.jpg", "-pix_fmt gray", 320, 240},
                                {"grey16.tif", "-pix_fmt gray16le", 320, 240},
                                {"grey16 as png.png", "-pix_fmt gray16be", 320, 240},
                                {"alpha.png", "-pix_fmt rgba", 320, 240},
                                {"alpha16.png", "-pix_fmt rgba64be", 320, 240},
                                {"proof.jpg", "-vf scale=200:100", 200, 100},
                                {"one wide.png", "-vf scale=1:100", 1, 100},
                                {"one high.png", "-vf scale=100:1", 100, 1},
                                {"dot.png", "-vf scale=1:1", 1, 1},
                                {"Brüder \"&\" Schwestern.JPG", "", 320, 240}};
  fs::create_directories(folder_ / "digital" / "b");
  for (const Odd& odd : all) {
    const fs::path to = folder_ / "digital" / "b" / odd.name,
                   made = folder_ / ("made" + to.extension().string());
    Output("ffmpeg -v error -y -i '" + source.string() + "' " + odd.made_by + " '" + made.string() + "'");
    fs::rename(made, to);
  }
  Make(1, 1);
  for (const std::string format : {"jpeg", "tiff16"}) {
    DeliverOptions options;
    options.fields = {{"format", format}, {"sharpening", "50"}};
    const auto answer = Deliver(options, format);
    ASSERT_TRUE(answer.ok()) << answer.error().Text();
    EXPECT_TRUE(answer->problems.empty()) << answer->problems[0].why;
    EXPECT_EQ(answer->written, static_cast<int>(all.size()) + 1);
    for (const Odd& odd : all) {
      std::string stem = fs::path(odd.name).stem().string();
      std::replace(stem.begin(), stem.end(), '"', '_');
      const auto picture = codec::ReadPicture(out() / format / (stem + (format == "jpeg" ? ".jpg" : ".tif")));
      ASSERT_TRUE(picture.ok()) << picture.error().Text();
      EXPECT_EQ(picture->photo.width_px, odd.width) << odd.name;
      EXPECT_EQ(picture->photo.height_px, odd.height) << odd.name;
    }
  }
}

}  // namespace
}  // namespace samelight::job
