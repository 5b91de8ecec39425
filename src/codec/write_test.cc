// Files out: what exiftool and the other libraries find in them, metadata both ways.
#include "codec/write.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "codec/encode.h"
#include "codec/profile.h"
#include "codec/read.h"
#include "codec/testing.h"

namespace samelight::codec {
namespace {

using ::testing::ElementsAre;
using testing::Folder;
using ::testing::HasSubstr;
using ::testing::Not;

// A JPEG with everything that a photographer's file holds, put there by exiftool (once: starting it is slow).
std::filesystem::path Original(const Folder& folder) {
  static const Bytes bytes = [] {
    Folder own;
    const auto file = own / "original.jpg";
    EXPECT_TRUE(WritePicture(file, testing::Quarters<std::uint8_t>(96, 64), {}).ok());
    const std::string command =
        "exiftool -q -overwrite_original"
        " -Orientation#=6 -DateTimeOriginal='2024:06:01 15:04:05' -SubSecTimeOriginal=27 "
        "-OffsetTimeOriginal=+02:00"
        " -ExposureTime=1/320 -FNumber=1.8 -ISO=800 -FocalLength=50 -SubjectDistance=3.5 -EXIF:Flash#=1"
        " -Make=Invented -Model='Body B' -SerialNumber=B-2 -LensModel='Invented 50/1.4' -Artist='Ada Example'"
        " -Copyright='(c) Ada' -ImageDescription='A mill' -GPSLatitude=47.5 -GPSLatitudeRef=N "
        "-GPSLongitude=8.5"
        " -GPSLongitudeRef=E -GPSProcessingMethod=GPS"
        " -IPTC:City=Millbrook -IPTC:Keywords=wedding -IPTC:By-line='Ada Example'"
        " -XMP-xmp:Rating=4 -XMP-dc:Subject=mill -XMP-photoshop:City=Millbrook -XMP-iptcCore:Location='The "
        "mill'"
        " -XMP-crs:Exposure2012=1.5 -XMP-crs:Version=99 -XMP-xmpRights:UsageTerms='Ask first' " +
        file.string();
    EXPECT_EQ(testing::Run(command), "");
    return testing::ReadBytes(file);
  }();
  const auto file = folder / "original.jpg";
  testing::WriteBytes(file, bytes);
  return file;
}

TEST(Metadata, ReadsWhatExiftoolWrote) {
  Folder folder;
  const auto facts = ReadFacts(Original(folder));
  ASSERT_TRUE(facts.ok()) << facts.error().Text();
  const record::Capture& c = facts->capture;
  // 15:04:05.27 at +02:00 is 13:04:05.27 UTC.
  EXPECT_EQ(c.time_us, 1'717'247'045'270'000);
  EXPECT_TRUE(c.has_zone);
  EXPECT_NEAR(c.exposure_time_s.value_or(0), 1 / 320.0, 1e-9);
  EXPECT_NEAR(c.aperture.value_or(0), 1.8, 1e-9);
  EXPECT_EQ(c.iso, 800);
  EXPECT_EQ(c.focal_mm, 50);
  EXPECT_EQ(c.focus_m, 3.5);
  EXPECT_EQ(c.flash, true);
  EXPECT_EQ(c.make, "Invented");
  EXPECT_EQ(c.body, "Body B");
  EXPECT_EQ(c.serial, "B-2");
  EXPECT_EQ(c.lens, "Invented 50/1.4");
  EXPECT_EQ(c.creator, "Ada Example");
  EXPECT_EQ(c.copyright, "(c) Ada");
  EXPECT_EQ(c.rating, 4);
  EXPECT_FALSE(c.sequence.has_value());
  EXPECT_FALSE(c.film_scanner);
  EXPECT_EQ(facts->width_px, 64);
  EXPECT_EQ(facts->height_px, 96);
}

TEST(Metadata, FilmScannerAndAdobeRgbAreTold) {
  Folder folder;
  Bytes bare = *EncodeJpegWith(testing::Quarters<std::uint8_t>(96, 64), 97, Subsampling::k444, 72, {});
  const auto file = folder / "scan.jpg";
  for (const int source : {1, 2, 3}) {
    testing::WriteBytes(file, bare);
    testing::Run("exiftool -q -overwrite_original -FileSource#=" + std::to_string(source) + " " +
                 file.string());
    EXPECT_EQ(ReadFacts(file)->capture.film_scanner, source != 3);
  }
  EXPECT_TRUE(ReadFacts(file)->profile_assumed);
  testing::Run("exiftool -q -overwrite_original -ColorSpace#=1 " + file.string());
  EXPECT_FALSE(ReadFacts(file)->profile_assumed) << "CIPA DC-008, tag 40961: 1 is sRGB";
  EXPECT_EQ(ReadPicture(file)->photo.profile_name, color::Name(color::Space::kSrgb));
  testing::Run("exiftool -q -overwrite_original -InteropIndex#=R03 -ColorSpace#=65535 " + file.string());
  const auto picture = ReadPicture(file);
  ASSERT_TRUE(picture.ok());
  EXPECT_FALSE(picture->photo.profile_assumed);
  EXPECT_EQ(picture->photo.profile_name, color::Name(color::Space::kAdobeRgb));
  for (int at = 0; at < 4; ++at)
    EXPECT_LT(testing::Difference(testing::QuarterColour(picture->pixels, at),
                                  testing::QuarterRec2020(at, color::Space::kAdobeRgb)),
              1.0);
}

TEST(Metadata, SidecarOutranksTheFile) {
  Folder folder;
  const auto file = Original(folder);
  const std::string packet =
      "<x:xmpmeta xmlns:x='adobe:ns:meta/'><rdf:RDF xmlns:rdf='http://www.w3.org/1999/02/22-rdf-syntax-ns#'>"
      "<rdf:Description rdf:about='' xmlns:xmp='http://ns.adobe.com/xap/1.0/' xmp:Rating='RATING'/>"
      "</rdf:RDF></x:xmpmeta>";
  const auto write = [&](const std::string& name, const std::string& rating) {
    std::string text = packet;
    text.replace(text.find("RATING"), 6, rating);
    testing::WriteBytes(folder / name, {text.begin(), text.end()});
  };
  write("original.xmp", "-1");
  EXPECT_EQ(ReadFacts(file)->capture.rating, -1);
  write("original.jpg.xmp", "2");
  EXPECT_EQ(ReadFacts(file)->capture.rating, 2);
  write("original.jpg.xmp", "7");  // no rating that the standard knows
  EXPECT_EQ(ReadFacts(file)->capture.rating, 4);
  testing::WriteBytes(folder / "original.jpg.xmp", Bytes(100, '<'));
  EXPECT_EQ(ReadFacts(file)->capture.rating, 4);
  EXPECT_EQ(ReadPicture(file)->photo.capture.rating, 4);
}

class EveryFormat : public ::testing::TestWithParam<Format> {};
INSTANTIATE_TEST_SUITE_P(Write, EveryFormat,
                         ::testing::Values(Format::kJpeg, Format::kTiff8, Format::kTiff16, Format::kPng));

Status WriteAny(const std::filesystem::path& file, const WriteOptions& options) {
  return options.format == Format::kTiff16
             ? WritePicture(file, testing::Quarters<std::uint16_t>(96, 64), options)
             : WritePicture(file, testing::Quarters<std::uint8_t>(96, 64), options);
}

TEST_P(EveryFormat, CarriesTheOriginalsMetadata) {
  Folder folder;
  WriteOptions options;
  options.format = GetParam();
  options.metadata = KeepMetadata(Original(folder)).value();
  options.dpi = 254;
  const auto file = folder / (std::string("out") + Ending(options.format));
  ASSERT_TRUE(WriteAny(file, options).ok());
  EXPECT_THAT(testing::Exif(file, {"ImageWidth",
                                   "ImageHeight",
                                   "Orientation",
                                   "DateTimeOriginal",
                                   "SubSecTimeOriginal",
                                   "OffsetTimeOriginal",
                                   "ExposureTime",
                                   "FNumber",
                                   "ISO",
                                   "FocalLength",
                                   "Make",
                                   "Model",
                                   "SerialNumber",
                                   "LensModel",
                                   "Artist",
                                   "Copyright",
                                   "ImageDescription",
                                   "GPSLatitude",
                                   "XMP:Rating",
                                   "XMP:Subject",
                                   "XMP:City",
                                   "XMP:Location",
                                   "ColorSpace"}),
              ElementsAre("96", "64", "1", "2024:06:01 15:04:05", "27", "+02:00", "0.003125", "1.8", "800",
                          "50", "Invented", "Body B", "B-2", "Invented 50/1.4", "Ada Example", "(c) Ada",
                          "A mill", "47.5", "4", "mill", "Millbrook", "The mill", "1"));
  EXPECT_THAT(testing::Exif(file, {"IPTC:City", "IPTC:Keywords", "IPTC:By-line"}),
              ElementsAre("Millbrook", "wedding", "Ada Example"));
  // Settings of a raw developer must not act on a finished picture.
  EXPECT_THAT(testing::Exif(file, {"XMP-crs:Exposure2012", "ThumbnailImage"}), ElementsAre("-", "-"));
  const bool tiff = std::string(Ending(options.format)) == ".tif";
  EXPECT_THAT(testing::Exif(file, {"ExifImageWidth", "ExifImageHeight"}),
              tiff ? ElementsAre("-", "-") : ElementsAre("96", "64"));
  if (options.format == Format::kPng)
    EXPECT_THAT(testing::Exif(file, {"PixelsPerUnitX", "PixelUnits"}), ElementsAre("10000", "1"));
  else
    EXPECT_THAT(testing::Exif(file, {"XResolution", "YResolution", "ResolutionUnit"}),
                ElementsAre("254", "254", "2"));
  const auto back = ReadPicture(file);
  ASSERT_TRUE(back.ok()) << back.error().Text();
  EXPECT_EQ(back->photo.width_px, 96);
  EXPECT_EQ(back->photo.capture.time_us, 1'717'247'045'270'000);
  for (int at = 0; at < 4; ++at)
    EXPECT_LT(testing::Difference(testing::QuarterColour(back->pixels, at), testing::QuarterRec2020(at)),
              1.0);
}

TEST_P(EveryFormat, StripsThePlaceAndSetsTheCopyright) {
  Folder folder;
  WriteOptions options;
  options.format = GetParam();
  options.metadata = KeepMetadata(Original(folder)).value();
  options.strip_place = true;
  options.copyright = "(c) 2024 Ada & Söhne";
  const auto file = folder / (std::string("out") + Ending(options.format));
  ASSERT_TRUE(WriteAny(file, options).ok());
  const std::string all = testing::Run("exiftool -a -G1 -s " + file.string());
  EXPECT_THAT(all, Not(HasSubstr("GPS")));
  EXPECT_THAT(all, Not(HasSubstr("Millbrook")));
  EXPECT_THAT(all, Not(HasSubstr("The mill")));
  EXPECT_THAT(all, HasSubstr("A mill"));  // the description stays
  EXPECT_THAT(testing::Exif(file, {"EXIF:Copyright", "XMP:Rights", "LensModel"}),
              ElementsAre(options.copyright, options.copyright, "Invented 50/1.4"));
}

constexpr color::Space kSpaces[] = {color::Space::kSrgb, color::Space::kDisplayP3, color::Space::kAdobeRgb,
                                    color::Space::kRec2020, color::Space::kRomm};

TEST(Write, EveryProfileIsEmbeddedWhole) {
  Folder folder;
  for (const Format format : {Format::kJpeg, Format::kTiff8, Format::kTiff16, Format::kPng})
    for (const auto space : kSpaces) {
      WriteOptions options;
      options.format = format;
      options.space = space;
      options.metadata = KeepMetadata(Original(folder)).value();
      const std::string stem = std::to_string(int(format)) + "-" + std::to_string(int(space));
      const auto file = folder / (stem + Ending(format));
      ASSERT_TRUE(WriteAny(file, options).ok());
      const auto back = ReadPicture(file);
      ASSERT_TRUE(back.ok());
      EXPECT_EQ(back->photo.profile_name, color::Name(space));
      EXPECT_FALSE(back->photo.profile_assumed);
      for (int at = 0; at < 4; ++at)
        EXPECT_LT(
            testing::Difference(testing::QuarterColour(back->pixels, at), testing::QuarterRec2020(at, space)),
            1.2)
            << stem;
    }
  testing::Run("exiftool -q -b -ICC_Profile -w %d%f.icc --ext icc " + folder.path().string());
  for (const Format format : {Format::kJpeg, Format::kTiff8, Format::kTiff16, Format::kPng})
    for (const auto space : kSpaces) {
      const std::string stem = std::to_string(int(format)) + "-" + std::to_string(int(space));
      EXPECT_EQ(testing::ReadBytes(folder / (stem + ".icc")), *ProfileOf(space)) << stem;
    }
}

TEST(Write, ExiftoolFindsNoFault) {
  Folder folder;
  std::string command = "exiftool -validate -warning -error -a -s3", expected;
  for (const Format format : {Format::kJpeg, Format::kTiff8, Format::kTiff16, Format::kPng})
    for (const bool with_source : {false, true}) {
      WriteOptions options;
      options.format = format;
      if (with_source) options.metadata = KeepMetadata(Original(folder)).value();
      const auto file = folder / (std::to_string(int(format)) + (with_source ? "m" : "") + Ending(format));
      ASSERT_TRUE(WriteAny(file, options).ok());
      command += " " + file.string();
      expected += "======== " + file.string() + "\n";
      // EXIF wants TIFF without compression; deflate is TIFF Technical Note 2's, and what a delivered TIFF is
      // made for.
      expected += Ending(format) == std::string(".tif")
                      ? "1 Warning\nInvalid value for IFD0 tag 0x0103 Compression\n"
                      : "OK\n";
    }
  std::string found = testing::Run(command);
  found.resize(found.rfind("    8 image files read"));
  EXPECT_EQ(found, expected);
}

// Tags that describe a raw file's pixels would make a delivered file unreadable.
TEST(Write, FromARawOriginalOnlyDescriptionsAreCopied) {
  Folder folder;
  DngSpec spec = testing::CameraSpec();
  spec.capture.make = "Invented";
  spec.capture.body = "Body A";
  spec.capture.serial = "A-1";
  spec.capture.lens = "Invented 35/2";
  spec.capture.time_us = 1'717'254'245'123'000;
  spec.capture.iso = 200;
  spec.orientation = 6;
  const auto bayer = testing::Mosaic(spec, 64, 48, [](int, int) { return Vec3{.2, .2, .2}; });
  ASSERT_TRUE(WriteDng(folder / "a.dng", bayer, spec).ok());
  for (const Format format : {Format::kJpeg, Format::kTiff16}) {
    WriteOptions options;
    options.format = format;
    options.metadata = KeepMetadata(folder / "a.dng").value();
    const auto file = folder / (std::string("out") + Ending(format));
    ASSERT_TRUE(WriteAny(file, options).ok());
    EXPECT_THAT(testing::Exif(file, {"Model", "SerialNumber", "LensModel", "ISO", "SubSecTimeOriginal",
                                     "Orientation", "ImageWidth", "SamplesPerPixel"}),
                ElementsAre("Body A", "A-1", "Invented 35/2", "200", "123000", "1", "96",
                            format == Format::kJpeg ? "-" : "3"));
    EXPECT_THAT(
        testing::Exif(file, {"DNGVersion", "ColorMatrix1", "AsShotNeutral", "CFAPattern2", "BlackLevel"}),
        ElementsAre("-", "-", "-", "-", "-"));
    const auto back = ReadPicture(file);
    ASSERT_TRUE(back.ok()) << back.error().Text();
    EXPECT_EQ(back->photo.encoding,
              format == Format::kJpeg ? record::Encoding::kJpeg : record::Encoding::kTiff);
  }
}

TEST(Write, SubsamplingIsAsAsked) {
  Folder folder;
  const struct {
    Subsampling subsampling;
    const char* told;
  } cases[] = {{Subsampling::k444, "1 1"}, {Subsampling::k422, "2 1"}, {Subsampling::k420, "2 2"}};
  for (const auto& c : cases) {
    WriteOptions options;
    options.subsampling = c.subsampling;
    ASSERT_TRUE(WritePicture(folder / "a.jpg", testing::Quarters<std::uint8_t>(96, 64), options).ok());
    EXPECT_EQ(testing::Exif(folder / "a.jpg", {"YCbCrSubSampling"})[0], c.told);
  }
  std::size_t size[2];
  for (const int quality : {40, 95}) {
    WriteOptions options;
    options.quality = quality;
    ASSERT_TRUE(WritePicture(folder / "q.jpg", testing::Quarters<std::uint8_t>(512, 512), options).ok());
    size[quality > 50] = std::filesystem::file_size(folder / "q.jpg");
  }
  EXPECT_LT(size[0], size[1]);
}

TEST(Write, SameInputGivesTheSameBytes) {
  Folder folder;
  WriteOptions options;
  options.metadata = KeepMetadata(Original(folder)).value();
  for (const Format format : {Format::kJpeg, Format::kTiff8, Format::kPng}) {
    options.format = format;
    ASSERT_TRUE(WriteAny(folder / "a", options).ok());
    ASSERT_TRUE(WriteAny(folder / "b", options).ok());
    EXPECT_EQ(testing::ReadBytes(folder / "a"), testing::ReadBytes(folder / "b"));
  }
}

TEST(Write, WrongUseIsRefused) {
  Folder folder;
  WriteOptions options;
  options.format = Format::kTiff16;
  EXPECT_EQ(WritePicture(folder / "a.tif", image::RgbU8(4, 4), options).error().code,
            ErrorCode::kInvalidArgument);
  options.format = Format::kJpeg;
  EXPECT_EQ(WritePicture(folder / "a.jpg", image::RgbU16(4, 4), options).error().code,
            ErrorCode::kInvalidArgument);
  options.quality = 0;
  EXPECT_EQ(WritePicture(folder / "a.jpg", image::RgbU8(4, 4), options).error().code,
            ErrorCode::kInvalidArgument);
  options.quality = 95;
  EXPECT_EQ(WritePicture(folder / "a.jpg", image::RgbU8(), options).error().code,
            ErrorCode::kInvalidArgument);
  EXPECT_EQ(WritePicture(folder / "a.jpg", image::RgbU8(70000, 1), options).error().code,
            ErrorCode::kInvalidArgument);
  EXPECT_FALSE(std::filesystem::exists(folder / "a.jpg"));
}

}  // namespace
}  // namespace samelight::codec
