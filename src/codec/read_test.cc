// Display-referred files in: kinds, reduced decodes, orientation, layouts of TIFF, facts against pictures.
#include "codec/read.h"

#include <cstdio>

#include <gtest/gtest.h>
#include <jpeglib.h>
#include <png.h>
#include <tiffio.h>

#include <cstring>

#include "base/hash.h"
#include "codec/encode.h"
#include "codec/profile.h"
#include "codec/testing.h"
#include "codec/write.h"
#include "image/resize.h"

namespace samelight::codec {
namespace {

using testing::Folder;

// A smooth picture with a hard edge; nothing that chroma subsampling or scaling could hide.
image::RgbU8 Smooth(int width, int height) {
  image::RgbU8 out(width, height);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) {
      std::uint8_t* v = out.at(x, y);
      v[0] = static_cast<std::uint8_t>(60 + 150 * x / width);
      v[1] = static_cast<std::uint8_t>(60 + 150 * y / height);
      v[2] = static_cast<std::uint8_t>(x > width / 2 ? 180 : 80);
    }
  return out;
}

void ExpectQuarters(const Picture& picture, int orientation, double bound) {
  for (int at = 0; at < 4; ++at) {
    const Vec3 got = testing::QuarterColour(picture.pixels, at);
    EXPECT_LT(testing::Difference(got, testing::QuarterRec2020(testing::StoredQuarter(orientation, at))),
              bound)
        << "orientation " << orientation << " quarter " << at << ": " << got[0] << ' ' << got[1] << ' '
        << got[2];
  }
}

TEST(Read, JpegAtEveryScale) {
  Folder folder;
  const auto pixels = Smooth(1003, 669);  // odd sides: reduced sizes round up
  ASSERT_TRUE(WritePicture(folder / "a.jpg", pixels, {}).ok());
  const auto full = ReadPicture(folder / "a.jpg");
  ASSERT_TRUE(full.ok()) << full.error().Text();
  ASSERT_EQ(full->pixels.width(), 1003);
  EXPECT_FALSE(full->scene_referred);
  EXPECT_EQ(full->photo.profile_name, "sRGB");
  EXPECT_FALSE(full->photo.profile_assumed);
  const struct {
    int at_least, width, height;
  } cases[] = {{1003, 1003, 669}, {503, 1003, 669}, {502, 502, 335}, {300, 502, 335},
               {251, 251, 168},   {126, 126, 84},   {125, 126, 84},  {20, 126, 84}};
  for (const auto& c : cases) {
    ReadOptions options;
    options.at_least_long_side_px = c.at_least;
    const auto part = ReadPicture(folder / "a.jpg", options);
    ASSERT_TRUE(part.ok());
    EXPECT_EQ(part->pixels.width(), c.width) << c.at_least;
    EXPECT_EQ(part->pixels.height(), c.height) << c.at_least;
    EXPECT_EQ(part->photo.width_px, 1003);
    const auto small = image::ResizeTo(full->pixels, c.width, c.height);
    double worst = 0, sum = 0;
    int count = 0;
    for (int y = 2; y < c.height - 2; ++y)
      for (int x = 2; x < c.width - 2; ++x) {
        if (std::abs(x - c.width / 2) < 4)
          continue;  // the edge: scaling in encoded values differs there by design
        const float *a = part->pixels.at(x, y), *b = small.at(x, y);
        const double d = testing::Difference({a[0], a[1], a[2]}, {b[0], b[1], b[2]});
        worst = std::max(worst, d);
        sum += d;
        ++count;
      }
    EXPECT_LT(worst, 3.5) << c.at_least;  // whole 8-bit steps of a nearly neutral colour
    EXPECT_LT(sum / count, 0.6) << c.at_least;
    // The edge stays at half the width: its crossing by area of the brighter side, to a quarter of a pixel.
    const float* row = part->pixels.row(c.height / 2);
    const double dark = row[3 * 4 + 2], bright = row[3 * (c.width - 5) + 2];
    double bright_px = 0;
    for (int x = c.width / 2 - 3; x <= c.width / 2 + 3; ++x)
      bright_px += (row[3 * x + 2] - dark) / (bright - dark);
    EXPECT_NEAR(c.width / 2 + 4 - bright_px, 502.0 * c.width / 1003, 0.5) << c.at_least;
  }
}

TEST(Read, OrientationIsAppliedOnce) {
  Folder folder;
  const auto quarters = testing::Quarters<std::uint8_t>(96, 64);
  std::string command = "exiftool";
  for (const Format format : {Format::kJpeg, Format::kTiff8})
    for (int o = 1; o <= 8; ++o) {
      const auto file = folder / (std::to_string(o) + Ending(format));
      WriteOptions options;
      options.format = format;
      ASSERT_TRUE(WritePicture(file, quarters, options).ok());
      command +=
          " -q -n -overwrite_original -Orientation=" + std::to_string(o) + " " + file.string() + " -execute";
    }
  EXPECT_EQ(testing::Run(command), "");
  for (const Format format : {Format::kJpeg, Format::kTiff8})
    for (int o = 1; o <= 8; ++o)
      for (const int at_least : {0, 24}) {
        ReadOptions options;
        options.at_least_long_side_px = at_least;
        const auto file = folder / (std::to_string(o) + Ending(format));
        const auto picture = ReadPicture(file, options);
        ASSERT_TRUE(picture.ok()) << picture.error().Text();
        const auto facts = ReadFacts(file);
        ASSERT_TRUE(facts.ok());
        EXPECT_EQ(facts->width_px, o >= 5 ? 64 : 96);
        EXPECT_EQ(facts->height_px, picture->photo.height_px);
        EXPECT_EQ(picture->pixels.width() > picture->pixels.height(), o < 5);
        ExpectQuarters(*picture, o, 1.0);
      }
}

TEST(Read, PictureHoldsFactsAndHash) {
  Folder folder;
  const auto file = folder / "a.png";
  WriteOptions options;
  options.format = Format::kPng;
  ASSERT_TRUE(WritePicture(file, Smooth(64, 40), options).ok());
  const auto picture = ReadPicture(file);
  ASSERT_TRUE(picture.ok());
  const auto bytes = testing::ReadBytes(file);
  ContentHash hash;
  hash.Add(bytes.data(), bytes.size());
  EXPECT_EQ(picture->photo.hash, hash.Hex());
  EXPECT_EQ(picture->photo.bytes, bytes.size());
  EXPECT_EQ(picture->photo.path, file.string());
  EXPECT_GT(picture->photo.modified_us, 1'600'000'000'000'000);
  EXPECT_EQ(picture->photo.encoding, record::Encoding::kPng);
}

TEST(Read, EightAndSixteenBitsComeBackExactly) {
  Folder folder;
  image::RgbU16 deep(251, 37);
  unsigned state = 7;
  for (auto& v : deep.data()) v = static_cast<std::uint16_t>((state = state * 1664525u + 1013904223u) >> 16);
  image::RgbU8 flat(251, 37);
  for (auto& v : flat.data()) v = static_cast<std::uint8_t>((state = state * 1664525u + 1013904223u) >> 24);
  const Mat3 matrix = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
  for (const Format format : {Format::kTiff8, Format::kTiff16, Format::kPng})
    for (const bool is_deep : {false, true}) {
      WriteOptions options;
      options.format = format;
      if ((format == Format::kTiff8 && is_deep) || (format == Format::kTiff16 && !is_deep)) continue;
      const auto file = folder / (std::string("x") + Ending(format));
      ASSERT_TRUE((is_deep ? WritePicture(file, deep, options) : WritePicture(file, flat, options)).ok());
      const auto picture = ReadPicture(file);
      ASSERT_TRUE(picture.ok()) << picture.error().Text();
      double worst = 0;
      for (std::size_t i = 0; i < deep.pixels(); ++i) {
        Vec3 linear{};
        for (std::size_t c = 0; c < 3; ++c)
          linear[c] = color::Decode(color::Space::kSrgb, is_deep ? deep.data()[3 * i + c] / 65535.0
                                                                 : flat.data()[3 * i + c] / 255.0);
        linear = Mul(matrix, linear);
        for (std::size_t c = 0; c < 3; ++c)
          worst = std::max(worst, std::abs(linear[c] - double(picture->pixels.data()[3 * i + c])));
      }
      EXPECT_LT(worst, 3e-5) << Ending(format)
                             << is_deep;  // 16-bit curves and 15.16 fixed-point colorants of the profile
    }
}

// Writes one TIFF in a given layout; `value(x, y, sample)` in 0..1.
struct TiffLayout {
  int bits = 8, samples = 3;
  std::uint16_t photometric = PHOTOMETRIC_RGB, planar = PLANARCONFIG_CONTIG, compression = COMPRESSION_NONE,
                format = SAMPLEFORMAT_UINT;
  int tile = 0, rows = 7;
  const char* mode = "w";
};

template <class Value>
void WriteTiff(const std::filesystem::path& path, int width, int height, const TiffLayout& l,
               const Value& value) {
  TIFF* t = TIFFOpen(path.c_str(), l.mode);
  ASSERT_NE(t, nullptr);
  TIFFSetField(t, TIFFTAG_IMAGEWIDTH, width);
  TIFFSetField(t, TIFFTAG_IMAGELENGTH, height);
  TIFFSetField(t, TIFFTAG_BITSPERSAMPLE, l.bits);
  TIFFSetField(t, TIFFTAG_SAMPLESPERPIXEL, l.samples);
  TIFFSetField(t, TIFFTAG_PHOTOMETRIC, l.photometric);
  TIFFSetField(t, TIFFTAG_PLANARCONFIG, l.planar);
  TIFFSetField(t, TIFFTAG_COMPRESSION, l.compression);
  TIFFSetField(t, TIFFTAG_SAMPLEFORMAT, l.format);
  const int extra = l.photometric == PHOTOMETRIC_RGB ? l.samples - 3 : 0;
  if (extra > 0) {
    const std::uint16_t kinds[1] = {EXTRASAMPLE_UNASSALPHA};
    TIFFSetField(t, TIFFTAG_EXTRASAMPLES, 1, kinds);
  }
  if (l.compression == COMPRESSION_JPEG) {
    TIFFSetField(t, TIFFTAG_JPEGQUALITY, 98);
    if (l.photometric == PHOTOMETRIC_YCBCR) TIFFSetField(t, TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB);
  }
  if (l.tile > 0) {
    TIFFSetField(t, TIFFTAG_TILEWIDTH, l.tile);
    TIFFSetField(t, TIFFTAG_TILELENGTH, l.tile);
  } else {
    TIFFSetField(t, TIFFTAG_ROWSPERSTRIP, l.rows);
  }
  const int planes = l.planar == PLANARCONFIG_CONTIG ? 1 : l.samples;
  const int in_plane = l.planar == PLANARCONFIG_CONTIG ? l.samples : 1;
  const int block_w = l.tile > 0 ? l.tile : width, block_h = l.tile > 0 ? l.tile : l.rows;
  for (int plane = 0; plane < planes; ++plane)
    for (int y0 = 0; y0 < height; y0 += block_h)
      for (int x0 = 0; x0 < width; x0 += block_w) {
        const int rows = l.tile > 0 ? block_h : std::min(block_h, height - y0);
        std::vector<std::uint8_t> block(static_cast<std::size_t>(block_w * rows * in_plane * l.bits / 8));
        std::size_t at = 0;
        for (int y = y0; y < y0 + rows; ++y)
          for (int x = x0; x < x0 + block_w; ++x)
            for (int s = 0; s < in_plane; ++s) {
              const double v = value(std::min(x, width - 1), std::min(y, height - 1), plane + s);
              if (l.bits == 32) {
                const auto f = static_cast<float>(v);
                std::memcpy(&block[at], &f, 4);
              } else if (l.bits == 16) {
                const auto u = static_cast<std::uint16_t>(std::lround(v * 65535));
                std::memcpy(&block[at], &u, 2);
              } else {
                block[at] = static_cast<std::uint8_t>(std::lround(v * 255));
              }
              at += static_cast<std::size_t>(l.bits / 8);
            }
        const auto size = static_cast<tmsize_t>(block.size());
        const auto x = static_cast<std::uint32_t>(x0), y = static_cast<std::uint32_t>(y0);
        if (l.tile > 0)
          ASSERT_GT(TIFFWriteTile(t, block.data(), x, y, 0, static_cast<std::uint16_t>(plane)), 0);
        else
          ASSERT_GT(TIFFWriteEncodedStrip(t, TIFFComputeStrip(t, y, static_cast<std::uint16_t>(plane)),
                                          block.data(), size),
                    0);
      }
  TIFFClose(t);
}

TEST(Read, EveryTiffLayout) {
  Folder folder;
  std::vector<TiffLayout> layouts;
  for (const int bits : {8, 16})
    for (const int samples : {3, 4})
      for (const std::uint16_t planar : {PLANARCONFIG_CONTIG, PLANARCONFIG_SEPARATE})
        for (const int tile : {0, 32})
          for (const std::uint16_t compression :
               {COMPRESSION_NONE, COMPRESSION_LZW, COMPRESSION_ADOBE_DEFLATE})
            layouts.push_back({bits, samples, PHOTOMETRIC_RGB, planar, compression, SAMPLEFORMAT_UINT, tile});
  layouts.push_back({32, 3, PHOTOMETRIC_RGB, PLANARCONFIG_CONTIG, COMPRESSION_NONE, SAMPLEFORMAT_IEEEFP});
  layouts.push_back(
      {8, 3, PHOTOMETRIC_YCBCR, PLANARCONFIG_CONTIG, COMPRESSION_JPEG, SAMPLEFORMAT_UINT, 0, 16});
  layouts.push_back(
      {16, 3, PHOTOMETRIC_RGB, PLANARCONFIG_CONTIG, COMPRESSION_NONE, SAMPLEFORMAT_UINT, 0, 7, "wb"});
  layouts.push_back(
      {16, 4, PHOTOMETRIC_RGB, PLANARCONFIG_SEPARATE, COMPRESSION_LZW, SAMPLEFORMAT_UINT, 32, 7, "wb"});
  layouts.push_back(
      {16, 3, PHOTOMETRIC_RGB, PLANARCONFIG_CONTIG, COMPRESSION_LZW, SAMPLEFORMAT_UINT, 0, 7, "w8"});
  int number = 0;
  for (const TiffLayout& l : layouts) {
    SCOPED_TRACE(number);
    const auto file = folder / (std::to_string(number++) + ".tif");
    WriteTiff(file, 96, 64, l, [](int x, int y, int s) {
      return s == 3 ? 0.4 : testing::kQuarters[(y >= 32) * 2 + (x >= 48)][s];
    });
    const auto picture = ReadPicture(file);
    ASSERT_TRUE(picture.ok()) << picture.error().Text();
    EXPECT_TRUE(picture->photo.profile_assumed);
    ExpectQuarters(*picture, 1, l.compression == COMPRESSION_JPEG ? 1.0 : 0.3);
    // Nothing between the quarters is lost or shifted: rows beside the border keep their colours.
    const float *a = picture->pixels.at(47, 31), *b = picture->pixels.at(48, 32);
    if (l.compression != COMPRESSION_JPEG) {
      EXPECT_LT(testing::Difference({a[0], a[1], a[2]}, testing::QuarterRec2020(0)), 0.3);
      EXPECT_LT(testing::Difference({b[0], b[1], b[2]}, testing::QuarterRec2020(3)), 0.3);
    }
    const auto facts = ReadFacts(file);
    ASSERT_TRUE(facts.ok());
    EXPECT_EQ(facts->width_px, 96);
  }
}

TEST(Read, GreyTiffBothWaysRound) {
  Folder folder;
  for (const std::uint16_t kind : {PHOTOMETRIC_MINISBLACK, PHOTOMETRIC_MINISWHITE})
    for (const int bits : {8, 16, 32}) {
      const TiffLayout l{bits,
                         1,
                         kind,
                         PLANARCONFIG_CONTIG,
                         COMPRESSION_NONE,
                         static_cast<std::uint16_t>(bits == 32 ? SAMPLEFORMAT_IEEEFP : SAMPLEFORMAT_UINT)};
      WriteTiff(folder / "g.tif", 40, 30, l,
                [&](int x, int, int) { return kind == PHOTOMETRIC_MINISWHITE ? 1 - x / 40.0 : x / 40.0; });
      const auto picture = ReadPicture(folder / "g.tif");
      ASSERT_TRUE(picture.ok()) << picture.error().Text();
      for (int x = 0; x < 40; ++x) {
        const float* v = picture->pixels.at(x, 11);
        EXPECT_NEAR(v[0], color::Decode(color::Space::kSrgb, x / 40.0), 0.004);
        EXPECT_EQ(v[0], v[1]);
        EXPECT_EQ(v[0], v[2]);
      }
    }
}

// JPEG kinds that our own writer never makes.
enum class JpegKind { kGrey, kCmyk, kYcck, kProgressive, kRestart };
std::vector<std::uint8_t> MakeJpeg(JpegKind kind, int width, int height) {
  jpeg_compress_struct info{};
  jpeg_error_mgr errors;
  info.err = jpeg_std_error(&errors);
  jpeg_create_compress(&info);
  unsigned char* data = nullptr;
  unsigned long size = 0;
  jpeg_mem_dest(&info, &data, &size);
  info.image_width = static_cast<JDIMENSION>(width);
  info.image_height = static_cast<JDIMENSION>(height);
  const bool ink = kind == JpegKind::kCmyk || kind == JpegKind::kYcck;
  info.input_components = kind == JpegKind::kGrey ? 1 : ink ? 4 : 3;
  info.in_color_space = kind == JpegKind::kGrey ? JCS_GRAYSCALE : ink ? JCS_CMYK : JCS_RGB;
  jpeg_set_defaults(&info);
  if (kind == JpegKind::kYcck) jpeg_set_colorspace(&info, JCS_YCCK);
  if (kind == JpegKind::kProgressive) jpeg_simple_progression(&info);
  if (kind == JpegKind::kRestart) info.restart_in_rows = 1;
  jpeg_set_quality(&info, 97, TRUE);
  jpeg_start_compress(&info, TRUE);
  std::vector<std::uint8_t> row(static_cast<std::size_t>(width * info.input_components));
  while (info.next_scanline < info.image_height) {
    const int y = static_cast<int>(info.next_scanline);
    for (int x = 0; x < width; ++x) {
      const double* q = testing::kQuarters[(y >= height / 2) * 2 + (x >= width / 2)];
      std::uint8_t* v = &row[static_cast<std::size_t>(x * info.input_components)];
      const auto byte = [](double f) { return static_cast<std::uint8_t>(std::lround(255 * f)); };
      if (kind == JpegKind::kGrey) {
        v[0] = byte(q[0]);
      } else {
        // The library marks four-channel files as Adobe's, where white is stored as full: R = C/255 with K
        // full.
        for (int c = 0; c < 3; ++c) v[c] = byte(q[c]);
        if (ink) v[3] = 255;
      }
    }
    JSAMPROW rows[1] = {row.data()};
    jpeg_write_scanlines(&info, rows, 1);
  }
  jpeg_finish_compress(&info);
  std::vector<std::uint8_t> out(data, data + size);
  jpeg_destroy_compress(&info);
  std::free(data);
  return out;
}

TEST(Read, EveryJpegKind) {
  Folder folder;
  for (const JpegKind kind : {JpegKind::kCmyk, JpegKind::kYcck, JpegKind::kProgressive, JpegKind::kRestart}) {
    testing::WriteBytes(folder / "k.jpg", MakeJpeg(kind, 96, 64));
    const auto picture = ReadPicture(folder / "k.jpg");
    ASSERT_TRUE(picture.ok()) << picture.error().Text();
    EXPECT_TRUE(picture->photo.profile_assumed);
    ExpectQuarters(*picture, 1, 1.0);
  }
  testing::WriteBytes(folder / "g.jpg", MakeJpeg(JpegKind::kGrey, 96, 64));
  const auto grey = ReadPicture(folder / "g.jpg");
  ASSERT_TRUE(grey.ok());
  EXPECT_NEAR(grey->pixels.at(5, 5)[1], color::Decode(color::Space::kSrgb, 0.8), 0.01);
  EXPECT_NEAR(grey->pixels.at(90, 5)[2], color::Decode(color::Space::kSrgb, 0.2), 0.005);
}

TEST(Read, PaletteInterlacedAndAlphaPng) {
  Folder folder;
  const auto file = folder / "p.png";
  for (const int kind : {PNG_COLOR_TYPE_PALETTE, PNG_COLOR_TYPE_RGB, PNG_COLOR_TYPE_RGB_ALPHA}) {
    FILE* out = std::fopen(file.c_str(), "wb");
    png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr);
    png_infop info = png_create_info_struct(png);
    png_init_io(png, out);
    const int samples = kind == PNG_COLOR_TYPE_PALETTE ? 1 : kind == PNG_COLOR_TYPE_RGB ? 3 : 4;
    png_set_IHDR(png, info, 96, 64, 8, kind, PNG_INTERLACE_ADAM7, PNG_COMPRESSION_TYPE_DEFAULT,
                 PNG_FILTER_TYPE_DEFAULT);
    png_color palette[4];
    for (int i = 0; i < 4; ++i) {
      const auto byte = [&](int c) {
        return static_cast<png_byte>(std::lround(255 * testing::kQuarters[i][c]));
      };
      palette[i] = {byte(0), byte(1), byte(2)};
    }
    if (kind == PNG_COLOR_TYPE_PALETTE) png_set_PLTE(png, info, palette, 4);
    png_write_info(png, info);
    std::vector<png_byte> pixels(static_cast<std::size_t>(96 * 64 * samples), 255);
    std::vector<png_bytep> rows;
    for (int y = 0; y < 64; ++y) {
      rows.push_back(&pixels[static_cast<std::size_t>(y * 96 * samples)]);
      for (int x = 0; x < 96; ++x) {
        const int q = (y >= 32) * 2 + (x >= 48);
        png_bytep v = rows.back() + x * samples;
        if (samples == 1) {
          v[0] = static_cast<png_byte>(q);
        } else {
          v[0] = palette[q].red;
          v[1] = palette[q].green;
          v[2] = palette[q].blue;
          if (samples == 4) v[3] = 9;  // alpha is left out, not blended
        }
      }
    }
    png_write_image(png, rows.data());
    png_write_end(png, info);
    png_destroy_write_struct(&png, &info);
    std::fclose(out);
    const auto picture = ReadPicture(file);
    ASSERT_TRUE(picture.ok()) << picture.error().Text();
    ExpectQuarters(*picture, 1, 0.3);
  }
}

TEST(Read, ContentCountsNotTheName) {
  Folder folder;
  ASSERT_TRUE(WritePicture(folder / "a.jpg", testing::Quarters<std::uint8_t>(96, 64), {}).ok());
  std::filesystem::rename(folder / "a.jpg", folder / "b.dng");
  const auto jpeg = ReadPicture(folder / "b.dng");
  ASSERT_TRUE(jpeg.ok()) << jpeg.error().Text();
  EXPECT_EQ(jpeg->photo.encoding, record::Encoding::kJpeg);
  const DngSpec spec = testing::CameraSpec();
  const auto bayer = testing::Mosaic(spec, 64, 48, [](int, int) { return Vec3{.2, .2, .2}; });
  ASSERT_TRUE(WriteDng(folder / "c.tif", bayer, spec).ok());
  const auto raw = ReadPicture(folder / "c.tif");
  ASSERT_TRUE(raw.ok()) << raw.error().Text();
  EXPECT_EQ(raw->photo.encoding, record::Encoding::kRaw);
  ASSERT_TRUE(ReadFacts(folder / "c.tif").ok());
  EXPECT_EQ(ReadFacts(folder / "c.tif")->encoding, record::Encoding::kRaw);
  WriteOptions tiff;
  tiff.format = Format::kTiff8;
  ASSERT_TRUE(WritePicture(folder / "d.dng", testing::Quarters<std::uint8_t>(96, 64), tiff).ok());
  const auto plain = ReadPicture(folder / "d.dng");
  ASSERT_TRUE(plain.ok()) << plain.error().Text();
}

TEST(Read, Endings) {
  for (const char* name : {"a.jpg", "A.JPG", "b.JpEg", "c.tif", "c.TIFF", "d.png", "e.dng", "f.NEF", "g.cr2"})
    EXPECT_TRUE(LooksLikePicture(name)) << name;
  for (const char* name : {"a", "a.txt", "jpg", "a.jpg.xmp", "a.mov", ".jpg"})
    EXPECT_FALSE(LooksLikePicture(name)) << name;
}

TEST(Read, CancelIsNotSuccess) {
  Folder folder;
  ASSERT_TRUE(WritePicture(folder / "a.jpg", Smooth(64, 64), {}).ok());
  ReadOptions options;
  options.cancel.Request();
  const auto picture = ReadPicture(folder / "a.jpg", options);
  ASSERT_FALSE(picture.ok());
  EXPECT_EQ(picture.error().code, ErrorCode::kCancelled);
}

}  // namespace
}  // namespace samelight::codec
