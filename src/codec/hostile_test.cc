// Damaged, truncated, mislabelled, huge and unreadable files: each gives a named error, never a crash, and
// quickly. All files are made here.
#include <gtest/gtest.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>
#include <zlib.h>

#include <chrono>
#include <csignal>
#include <cstring>
#include <random>

#include "codec/read.h"
#include "codec/testing.h"
#include "codec/write.h"

namespace samelight::codec {
namespace {

using testing::Folder;
using Bytes = std::vector<std::uint8_t>;

// A picture with detail everywhere, so that compressed data has something to break.
template <class T>
image::Raster<T, 3> Busy(int width, int height) {
  image::Raster<T, 3> out(width, height);
  unsigned state = 5;
  for (std::size_t i = 0; i < out.data().size(); ++i) {
    state = state * 1664525u + 1013904223u;
    const double v = 0.5 + 0.3 * std::sin(double(i) * 0.01) + 0.1 * (double(state >> 24) / 255 - 0.5);
    out.data()[i] = static_cast<T>(v * double(static_cast<T>(~T{0})));
  }
  return out;
}

Bytes Valid(const Folder& folder, const std::string& ending, int width = 96, int height = 64) {
  const auto file = folder / ("valid" + ending);
  WriteOptions options;
  if (ending == ".dng") {
    DngSpec spec = testing::CameraSpec();
    spec.capture.make = "Invented";
    spec.capture.body = "Body";
    spec.capture.time_us = 1'717'254'245'123'000;
    const auto bayer = testing::Mosaic(spec, width, height, [](int x, int y) {
      return Vec3{0.2 + 0.1 * std::sin(x), 0.3 + 0.1 * std::sin(y), 0.1};
    });
    EXPECT_TRUE(WriteDng(file, bayer, spec).ok());
  } else if (ending == ".tif") {
    options.format = Format::kTiff16;
    EXPECT_TRUE(WritePicture(file, Busy<std::uint16_t>(width, height), options).ok());
  } else {
    options.format = ending == ".png" ? Format::kPng : Format::kJpeg;
    EXPECT_TRUE(WritePicture(file, Busy<std::uint8_t>(width, height), options).ok());
  }
  return testing::ReadBytes(file);
}

// What `body` returns in a child process without the superuser's rights, which know no refusal.
template <class Body>
ErrorCode AsNobody(const Body& body) {
  const pid_t child = ::fork();
  if (child == 0) {
    if (::geteuid() == 0 && (::setegid(65534) != 0 || ::seteuid(65534) != 0)) ::_exit(255);
    ::_exit(static_cast<int>(body()));
  }
  int status = 0;
  ::waitpid(child, &status, 0);
  EXPECT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) != 255);
  return static_cast<ErrorCode>(WEXITSTATUS(status));
}

// Reads both ways; neither may crash. Returns the picture's error code, or none.
std::optional<ErrorCode> Try(const std::filesystem::path& file, const Limits& limits = {}) {
  ReadOptions options;
  options.limits = limits;
  const auto picture = ReadPicture(file, options);
  const auto facts = ReadFacts(file, limits);
  if (!facts.ok()) {
    EXPECT_FALSE(facts.error().what.empty());
    EXPECT_EQ(facts.error().file, file.string());
  }
  if (picture.ok()) return {};
  EXPECT_FALSE(picture.error().what.empty());
  EXPECT_EQ(picture.error().file, file.string());
  return picture.error().code;
}

TEST(Hostile, EmptyZeroAndMislabelledFiles) {
  Folder folder;
  for (const char* name : {"e.jpg", "e.tif", "e.png", "e.dng", "e.nef", "e.cr2"}) {
    testing::WriteBytes(folder / name, {});
    EXPECT_EQ(Try(folder / name), ErrorCode::kDamaged) << name;
    testing::WriteBytes(folder / name, Bytes(100'000, 0));
    EXPECT_EQ(Try(folder / name), ErrorCode::kDamaged) << name;
    const std::string text = "This is a letter, and no picture at all.\n";
    testing::WriteBytes(folder / name, Bytes(text.begin(), text.end()));
    EXPECT_EQ(Try(folder / name), ErrorCode::kDamaged) << name;
  }
  testing::WriteBytes(folder / "movie.mov", Bytes(1000, 7));
  EXPECT_EQ(Try(folder / "movie.mov"), ErrorCode::kUnsupported);
}

TEST(Hostile, MissingFolderAndUnreadable) {
  Folder folder;
  EXPECT_EQ(Try(folder / "none.jpg"), ErrorCode::kNotFound);
  std::filesystem::create_directory(folder / "x.jpg");
  EXPECT_EQ(Try(folder / "x.jpg"), ErrorCode::kUnsupported);
  ASSERT_EQ(::mkfifo((folder / "pipe.jpg").c_str(), 0600), 0);
  EXPECT_EQ(Try(folder / "pipe.jpg"), ErrorCode::kUnsupported);  // and does not wait for a writer
  std::filesystem::create_symlink(folder / "none.jpg", folder / "link.jpg");
  EXPECT_EQ(Try(folder / "link.jpg"), ErrorCode::kNotFound);
}

TEST(Hostile, RefusalsOfTheSystemAreNamed) {
  Folder folder;
  ::chmod(folder.path().c_str(), 0555);
  Valid(folder, ".jpg");
  const auto file = folder / "valid.jpg";
  ::chmod(file.c_str(), 0);
  EXPECT_EQ(AsNobody([&] { return ReadPicture(file).error().code; }), ErrorCode::kPermission);
  EXPECT_EQ(AsNobody([&] { return ReadFacts(file).error().code; }), ErrorCode::kPermission);
  EXPECT_EQ(
      AsNobody([&] { return WritePicture(folder / "a.jpg", Busy<std::uint8_t>(16, 16), {}).error().code; }),
      ErrorCode::kPermission);
  ::chmod(folder.path().c_str(), 0755);
}

class EveryEnding : public ::testing::TestWithParam<const char*> {};
INSTANTIATE_TEST_SUITE_P(Hostile, EveryEnding, ::testing::Values(".jpg", ".tif", ".png", ".dng"));

TEST_P(EveryEnding, TruncatedAnywhereIsDamaged) {
  Folder folder;
  const std::string ending = GetParam();
  const Bytes whole = Valid(folder, ending);
  const auto file = folder / ("cut" + ending);
  testing::WriteBytes(file, whole);
  ASSERT_EQ(Try(file), std::nullopt);
  for (const double part : {0.01, 0.05, 0.2, 0.4, 0.6, 0.8, 0.9, 0.97, 0.995}) {
    testing::WriteBytes(file,
                        Bytes(whole.begin(), whole.begin() + std::ptrdiff_t(double(whole.size()) * part)));
    const auto code = Try(file);
    ASSERT_TRUE(code.has_value()) << ending << " at " << part;
    EXPECT_TRUE(code == ErrorCode::kDamaged || code == ErrorCode::kUnsupported)
        << ending << " at " << part << ": " << ErrorCodeName(*code);
  }
  for (std::size_t size = 1; size < 64; ++size) {
    testing::WriteBytes(file, Bytes(whole.begin(), whole.begin() + std::ptrdiff_t(size)));
    ASSERT_TRUE(Try(file).has_value()) << ending << " " << size;
  }
}

TEST_P(EveryEnding, RandomDamageNeverCrashes) {
  Folder folder;
  const std::string ending = GetParam();
  const Bytes whole = Valid(folder, ending);
  const auto file = folder / ("hit" + ending);
  std::mt19937 random(11);
  Limits limits;
  limits.most_pixels = 4'000'000;  // what a broken header asks for stays small
  const auto start = std::chrono::steady_clock::now();
  int read = 0, refused = 0;
  for (int round = 0; round < 300; ++round) {
    Bytes bytes = whole;
    // Headers and directories are hit more often than pixels, where little can go wrong.
    const std::size_t span = round % 3 == 0 ? bytes.size() : std::min<std::size_t>(bytes.size(), 1200);
    const bool at_end = ending == ".tif" && round % 3 == 1;
    const int hits = 1 + int(random() % 8);
    for (int i = 0; i < hits; ++i) {
      std::size_t at = random() % span;
      if (at_end) at = bytes.size() - 1 - at;
      switch (random() % 4) {
        case 0:
          bytes[at] = static_cast<std::uint8_t>(random());
          break;
        case 1:
          bytes[at] ^= static_cast<std::uint8_t>(1u << random() % 8);
          break;
        case 2:
          bytes[at] = 0xff;
          break;
        default:
          bytes[at] = 0;
          break;
      }
    }
    if (round % 10 == 9) bytes.erase(bytes.begin() + std::ptrdiff_t(random() % bytes.size()));
    testing::WriteBytes(file, bytes);
    Try(file, limits) ? ++refused : ++read;
  }
  const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  EXPECT_GT(refused, 10) << "the damage did no harm, so nothing was tried";
  EXPECT_GT(read, 10) << "nothing was read, so only the first check was tried";
  EXPECT_LT(seconds, 60);
}

void Put32(Bytes& bytes, std::size_t at, std::uint32_t v) { std::memcpy(&bytes[at], &v, 4); }

// Offset of the value field of a tag in the first directory of a little-endian TIFF.
std::size_t TagValue(const Bytes& bytes, std::uint16_t tag) {
  std::uint32_t at = 0;
  std::memcpy(&at, &bytes[4], 4);
  std::uint16_t count = 0;
  std::memcpy(&count, &bytes[at], 2);
  for (std::size_t i = 0; i < count; ++i) {
    std::uint16_t t = 0;
    std::memcpy(&t, &bytes[at + 2 + 12 * i], 2);
    if (t == tag) return at + 2 + 12 * i + 8;
  }
  ADD_FAILURE() << "no tag " << tag;
  return 0;
}

TEST(Hostile, TenGigapixelHeadersAreRefusedBeforeAnyMemoryIsTaken) {
  Folder folder;
  struct rusage before {};
  ::getrusage(RUSAGE_SELF, &before);
  for (const char* ending : {".tif", ".dng"}) {
    Bytes bytes = Valid(folder, ending);
    // libtiff writes sides as SHORT or LONG as they fit: the type field lies six bytes before the value.
    for (const std::uint16_t tag : {256, 257, 278}) {
      const std::size_t value = TagValue(bytes, tag);
      bytes[value - 6] = 4;  // LONG
      Put32(bytes, value, 100'000);
    }
    testing::WriteBytes(folder / ("huge" + std::string(ending)), bytes);
    const auto code = Try(folder / ("huge" + std::string(ending)));
    ASSERT_TRUE(code.has_value());
    EXPECT_TRUE(code == ErrorCode::kTooLarge || code == ErrorCode::kDamaged ||
                code == ErrorCode::kUnsupported)
        << ending << ' ' << ErrorCodeName(*code);
    if (std::string(ending) == ".tif") {
      EXPECT_EQ(code, ErrorCode::kTooLarge);
    }
  }
  Bytes png = Valid(folder, ".png");
  for (const std::size_t at : {16u, 20u}) {  // IHDR: width and height, big-endian 100 000
    png[at] = 0;
    png[at + 1] = 1;
    png[at + 2] = 0x86;
    png[at + 3] = 0xa0;
  }
  testing::WriteBytes(folder / "huge.png", png);
  const auto code = Try(folder / "huge.png");  // the checksum of IHDR no longer fits either
  EXPECT_TRUE(code == ErrorCode::kTooLarge || code == ErrorCode::kDamaged);
  Bytes jpeg = Valid(folder, ".jpg");
  for (std::size_t i = 2; i + 9 < jpeg.size(); ++i)
    if (jpeg[i] == 0xff && jpeg[i + 1] == 0xc0) {  // SOF0: height, width
      jpeg[i + 5] = jpeg[i + 7] = 0xff;
      jpeg[i + 6] = jpeg[i + 8] = 0x00;
    }
  testing::WriteBytes(folder / "huge.jpg", jpeg);
  EXPECT_EQ(Try(folder / "huge.jpg"), ErrorCode::kTooLarge);
  struct rusage after {};
  ::getrusage(RUSAGE_SELF, &after);
  EXPECT_LT(after.ru_maxrss - before.ru_maxrss, 200'000) << "kilobytes";
}

TEST(Hostile, LimitsHold) {
  Folder folder;
  for (const char* ending : {".jpg", ".tif", ".png", ".dng"}) {
    Valid(folder, ending);
    Limits limits;
    limits.most_pixels = 96 * 64;
    EXPECT_EQ(Try(folder / (std::string("valid") + ending), limits), std::nullopt) << ending;
    limits.most_pixels = 96 * 64 - 1;
    EXPECT_EQ(Try(folder / (std::string("valid") + ending), limits), ErrorCode::kTooLarge) << ending;
    limits = {};
    limits.most_file_bytes = 100;
    EXPECT_EQ(Try(folder / (std::string("valid") + ending), limits), ErrorCode::kTooLarge) << ending;
  }
}

TEST(Hostile, TiffStripsThatPointOutside) {
  Folder folder;
  const Bytes whole = Valid(folder, ".dng");
  for (const std::uint32_t offset : {0xfffffff0u, 0x7fffffffu, 0x00ffffffu}) {
    Bytes bytes = whole;
    Put32(bytes, TagValue(bytes, 273), offset);
    testing::WriteBytes(folder / "strip.dng", bytes);
    EXPECT_EQ(Try(folder / "strip.dng"), ErrorCode::kDamaged) << offset;
  }
  WriteOptions options;
  options.format = Format::kTiff8;
  ASSERT_TRUE(WritePicture(folder / "one.tif", Busy<std::uint8_t>(96, 64), options).ok());
  Bytes bytes = testing::ReadBytes(folder / "one.tif");
  for (const std::uint16_t tag : {273, 279}) {
    Bytes broken = bytes;
    Put32(broken, TagValue(broken, tag), 0xfffffff0u);
    testing::WriteBytes(folder / "strip.tif", broken);
    EXPECT_EQ(Try(folder / "strip.tif"), ErrorCode::kDamaged) << tag;
  }
  // A directory chain that bites its own tail.
  std::uint32_t at = 0;
  std::memcpy(&at, &bytes[4], 4);
  std::uint16_t count = 0;
  std::memcpy(&count, &bytes[at], 2);
  Put32(bytes, at + 2u + 12u * count, at);
  testing::WriteBytes(folder / "loop.tif", bytes);
  EXPECT_EQ(Try(folder / "loop.tif"), std::nullopt);
}

TEST(Hostile, JpegWithBrokenCodesIsDamaged) {
  Folder folder;
  Bytes bytes = Valid(folder, ".jpg", 256, 256);
  std::size_t scan = 0;
  for (std::size_t i = 2; i + 1 < bytes.size(); ++i)
    if (bytes[i] == 0xff && bytes[i + 1] == 0xda) scan = i;
  ASSERT_GT(scan, 0u);
  for (std::size_t i = scan + 400; i < scan + 600; ++i) bytes[i] = static_cast<std::uint8_t>(i * 37);
  testing::WriteBytes(folder / "codes.jpg", bytes);
  EXPECT_EQ(Try(folder / "codes.jpg"), ErrorCode::kDamaged);
}

// A progressive file that repeats one scan thousands of times keeps a decoder busy for hours when nothing
// counts.
TEST(Hostile, ProgressiveBombIsBounded) {
  Folder folder;
  // By hand: SOI, DQT, SOF2 of 4000 x 4000 grey, DHT with one code, then the same empty first scan again and
  // again.
  Bytes bytes = {0xff, 0xd8, 0xff, 0xdb, 0, 67, 0};
  bytes.insert(bytes.end(), 64, 1);
  const std::uint8_t sof[] = {0xff, 0xc2, 0, 11, 8, 0x0f, 0xa0, 0x0f, 0xa0, 1, 1, 0x11, 0};
  bytes.insert(bytes.end(), std::begin(sof), std::end(sof));
  Bytes dht = {0xff, 0xc4, 0, 20, 0x10, 1};
  dht.insert(dht.end(), 15, 0);
  dht.push_back(0xe0);  // one code: end of band for 2^14 blocks and more
  bytes.insert(bytes.end(), dht.begin(), dht.end());
  const std::uint8_t scan[] = {0xff, 0xda, 0, 8, 1, 1, 0x00, 1, 63, 0x00, 0x00, 0x00};
  for (int i = 0; i < 5000; ++i) bytes.insert(bytes.end(), std::begin(scan), std::end(scan));
  bytes.push_back(0xff);
  bytes.push_back(0xd9);
  testing::WriteBytes(folder / "bomb.jpg", bytes);
  const auto start = std::chrono::steady_clock::now();
  const auto picture = ReadPicture(folder / "bomb.jpg");
  ASSERT_FALSE(picture.ok());
  EXPECT_EQ(picture.error().code, ErrorCode::kDamaged);
  EXPECT_NE(picture.error().what.find("more than 100 scans"), std::string::npos) << picture.error().Text();
  EXPECT_LT(std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count(), 20);
}

// A PNG of a few kilobytes whose text chunks unpack to 1.6 GB, which the decoder's library would keep.
TEST(Hostile, UnpackedTextsOfPngAreNotKept) {
  Folder folder;
  const Bytes valid = Valid(folder, ".png");
  constexpr std::size_t kHead = 33;  // signature and IHDR
  Bytes chunk = {0, 0, 0, 0, 'z', 'T', 'X', 't', 'a', 0, 0};
  const Bytes text(16'000'000, 'x');
  uLongf size = ::compressBound(text.size());
  const std::size_t head = chunk.size();
  chunk.resize(head + size);
  ASSERT_EQ(::compress2(chunk.data() + head, &size, text.data(), text.size(), 9), Z_OK);
  chunk.resize(head + size);
  for (std::size_t i = 0; i < 4; ++i)
    chunk[i] = static_cast<std::uint8_t>((chunk.size() - 8) >> (24 - 8 * i));
  const auto sum = ::crc32(0, chunk.data() + 4, static_cast<uInt>(chunk.size() - 4));
  for (std::size_t i = 0; i < 4; ++i) chunk.push_back(static_cast<std::uint8_t>(sum >> (24 - 8 * i)));
  Bytes bomb(valid.begin(), valid.begin() + kHead);
  for (int i = 0; i < 100; ++i) bomb.insert(bomb.end(), chunk.begin(), chunk.end());
  bomb.insert(bomb.end(), valid.begin() + kHead, valid.end());
  testing::WriteBytes(folder / "bomb.png", bomb);
  struct rusage before {};
  ::getrusage(RUSAGE_SELF, &before);
  EXPECT_TRUE(ReadPicture(folder / "bomb.png").ok());
  struct rusage after {};
  ::getrusage(RUSAGE_SELF, &after);
  EXPECT_LT(after.ru_maxrss - before.ru_maxrss, 200'000) << "kilobytes";
}

TEST(Hostile, NothingIsPrinted) {
  Folder folder;
  for (const char* ending : {".jpg", ".tif", ".png", ".dng"}) {
    Bytes bytes = Valid(folder, ending);
    bytes.resize(bytes.size() * 2 / 3);
    testing::WriteBytes(folder / ("a" + std::string(ending)), bytes);
    ::testing::internal::CaptureStderr();
    ::testing::internal::CaptureStdout();
    Try(folder / ("a" + std::string(ending)));
    EXPECT_EQ(::testing::internal::GetCapturedStderr(), "") << ending;
    EXPECT_EQ(::testing::internal::GetCapturedStdout(), "") << ending;
  }
}

TEST(Hostile, FullDiskAndMissingFolderAreNamed) {
  Folder folder;
  const auto pixels = Busy<std::uint8_t>(512, 512);
  EXPECT_EQ(WritePicture(folder / "none/a.jpg", pixels, {}).error().code, ErrorCode::kNotFound);
  WriteOptions options;
  EXPECT_EQ(KeepMetadata(folder / "none.jpg").error().code, ErrorCode::kNotFound);
  // A limit on file sizes stands for a full disk: the write fails in the middle.
  struct rlimit old {};
  ::getrlimit(RLIMIT_FSIZE, &old);
  struct rlimit small = old;
  small.rlim_cur = 20'000;
  const auto handler = std::signal(SIGXFSZ, SIG_IGN);
  ::setrlimit(RLIMIT_FSIZE, &small);
  const Status status = WritePicture(folder / "b.jpg", pixels, {});
  ::setrlimit(RLIMIT_FSIZE, &old);
  std::signal(SIGXFSZ, handler);
  ASSERT_FALSE(status.ok());
  EXPECT_EQ(status.error().file, (folder / "b.jpg").string());
  EXPECT_TRUE(std::filesystem::is_empty(folder.path())) << "a half-written file was left behind";
}

}  // namespace
}  // namespace samelight::codec
