// A small invented session that is solved, ready to be delivered: no measuring, pairing or solving is needed.
#pragma once

#include <gtest/gtest.h>
#include <unistd.h>

#include <map>
#include <memory>
#include <string>
#include <vector>

#include "base/file.h"
#include "base/hash.h"
#include "codec/read.h"
#include "codec/write.h"
#include "job/stages.h"

namespace samelight::job::testing {

inline std::vector<std::uint8_t> BytesOf(const fs::path& file) {
  auto bytes = ReadFile(file, 1u << 30);
  EXPECT_TRUE(bytes.ok()) << file;
  return bytes.ok() ? std::move(bytes).value() : std::vector<std::uint8_t>();
}

// Every file below `folder` with its content; reports, the session and hidden files aside.
inline std::map<std::string, std::vector<std::uint8_t>> FilesBelow(const fs::path& folder) {
  std::map<std::string, std::vector<std::uint8_t>> files;
  if (!fs::exists(folder)) return files;
  for (const auto& entry : fs::recursive_directory_iterator(folder))
    if (entry.is_regular_file() && entry.path().filename().string().front() != '.')
      files[entry.path().lexically_relative(folder).generic_string()] = BytesOf(entry.path());
  return files;
}

class DeliveryTest : public ::testing::Test {
 protected:
  void SetUp() override {
    std::string pattern = (fs::temp_directory_path() / "samelight-delivery-XXXXXX").string();
    ASSERT_NE(::mkdtemp(pattern.data()), nullptr);
    folder_ = fs::canonical(pattern);
  }
  void TearDown() override {
    std::error_code ec;
    for (const auto& entry : fs::recursive_directory_iterator(folder_, ec))
      if (entry.is_directory(ec)) fs::permissions(entry.path(), fs::perms::owner_all, ec);
    fs::remove_all(folder_, ec);
  }

  fs::path file() const { return folder_ / "wedding.samelight"; }
  fs::path out() const { return folder_ / "out"; }
  fs::path FrameFile(int i) const { return folder_ / "digital" / ("P" + std::to_string(i) + ".jpg"); }
  fs::path ScanFile(int i) const { return folder_ / "film" / "roll 1" / ("s" + std::to_string(i) + ".jpg"); }

  // Busy pictures, told apart by `shade`.
  static void WriteJpeg(const fs::path& path, int width, int height, int shade) {
    image::RgbU8 picture(width, height);
    std::uint32_t dice = static_cast<std::uint32_t>(shade) * 2654435761u + 1;
    for (int y = 0; y < height; ++y)
      for (int x = 0; x < width; ++x)
        for (int c = 0; c < 3; ++c) {
          dice = dice * 1664525u + 1013904223u;
          picture.at(x, y)[c] = static_cast<std::uint8_t>(
              (shade * 7 + x * 120 / width + y * 60 / height + c * 20 + static_cast<int>(dice >> 29)) % 250);
        }
    fs::create_directories(path.parent_path());
    ASSERT_TRUE(codec::WritePicture(path, picture, {}).ok());
  }

  // Frames P1.. and scans s1..; scan i is of the moment of frame i. Two lights: the first half of the frames,
  // the rest.
  void Make(int frames, int scans, int width = 96, int height = 64) {
    for (int i = 1; i <= scans; ++i) WriteJpeg(ScanFile(i), width, height, 100 + i);
    for (int i = 1; i <= frames; ++i) WriteJpeg(FrameFile(i), width, height, i);
    SilentProgress silent;
    NewRequest request{file(), {}, {folder_ / "digital"}};
    if (scans > 0) request.film = {folder_ / "film"};
    ASSERT_TRUE(New(request, {silent, Cancel()}).ok());
    auto session = Open();
    auto photos = session->Photos();
    auto change = session->Begin();
    session::PairResult pairs;
    session::MatchResult match;
    std::vector<PhotoId> frame_ids, scan_ids;
    int minute = 0;
    for (record::Photo& photo : *photos) {
      ContentHash hash;
      const auto bytes = BytesOf(session->Absolute(photo.path));
      hash.Add(bytes.data(), bytes.size());
      photo.hash = hash.Hex();
      if (photo.role == record::Role::kFrame) {
        photo.capture.time_us = 1'700'000'000'000'000 + 60'000'000ll * minute++;
        frame_ids.push_back(photo.id);
      } else {
        scan_ids.push_back(photo.id);
      }
      ASSERT_TRUE(change->Put(photo).ok());
    }
    pairs.lights = {{LightId{1}, "mill", {}, {}, 180, 0}, {LightId{2}, "hall: late", {}, {}, 250, 0}};
    for (std::size_t i = 0; i < frame_ids.size(); ++i) {
      pairs.lights[i < frame_ids.size() / 2 ? 0 : 1].frames.push_back(frame_ids[i]);
      record::FrameSolution solution;
      solution.frame = frame_ids[i];
      solution.correction.frame = frame_ids[i];
      solution.correction.unify.display_referred = true;
      solution.correction.offset_log10 = {0.02, 0, -0.02};
      match.frames.push_back(solution);
    }
    for (std::size_t i = 0; i < scan_ids.size(); ++i)
      pairs.pairs.push_back({scan_ids[i], frame_ids.at(i), record::PairKind::kMoment, 0.9, false, {}});
    ASSERT_TRUE(change->ReplacePairs(pairs).ok());
    ASSERT_TRUE(change->ReplaceMatch(match).ok());
    ASSERT_TRUE(change->Commit().ok());
  }

  std::unique_ptr<session::Session> Open() const {
    auto session = session::Session::Open(file(), session::Access::kWrite);
    EXPECT_TRUE(session.ok()) << session.error().Text();
    return session.ok() ? std::move(session).value() : nullptr;
  }
  // Delivers into out() (or a folder below), without the stages before.
  Result<DeliverAnswer> Deliver(const DeliverOptions& options = {}, const std::string& into = "",
                                const Cancel& cancel = {}) const {
    const auto session = Open();
    auto orders = OrdersOf(*session, options);
    if (!orders.ok()) return orders.error();
    SilentProgress silent;
    return DeliverOrders(*session, out() / into, *orders, options, {silent, cancel});
  }

  fs::path folder_;
};

}  // namespace samelight::job::testing
