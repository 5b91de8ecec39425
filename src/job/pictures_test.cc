// Pictures of an invented session: that the right one comes, the last one asked for wins, and nothing waits.
#include "job/pictures.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <atomic>
#include <chrono>
#include <filesystem>
#include <map>
#include <set>
#include <thread>

#include "codec/profile.h"
#include "color/space.h"
#include "job/desk.h"
#include "job/desk_testing.h"
#include "render/bake.h"

namespace samelight::job {
namespace {

namespace fs = std::filesystem;

class PicturesTest : public testing::Test {
 protected:
  void SetUp() override {
    folder_ = fs::temp_directory_path() / ("samelight-pictures-" + std::to_string(::getpid()) + "-" +
                                           testing::UnitTest::GetInstance()->current_test_info()->name());
    fs::remove_all(folder_);
    fs::create_directories(folder_);
    InventedOptions options;
    options.frames = 20;
    options.pictures = 3;
    made_ = std::make_unique<InventedSession>(folder_, options);
    ASSERT_TRUE(made_->ok());
    auto desk = Desk::Open(made_->file(), [] {});
    ASSERT_TRUE(desk.ok());
    desk_ = std::move(*desk);
    pictures_ = std::make_unique<Pictures>([this] { ++rung_; });
    pictures_->SetBook(desk_->book());
  }
  void TearDown() override {
    pictures_.reset();
    desk_.reset();
    fs::remove_all(folder_);
  }
  // The next answers, until `enough` says so or ten seconds are over.
  std::vector<MadePicture> Until(const std::function<bool(const std::vector<MadePicture>&)>& enough) {
    std::vector<MadePicture> all;
    for (int i = 0; i < 2000 && !enough(all); ++i) {
      for (MadePicture& made : pictures_->Poll()) all.push_back(std::move(made));
      std::this_thread::sleep_for(std::chrono::milliseconds(5));
    }
    return all;
  }
  WantedPicture Wanted(PhotoId photo, Showing showing) const {
    WantedPicture wanted;
    wanted.slot = 1;
    wanted.photo = photo;
    wanted.showing = showing;
    wanted.width_px = 300;
    wanted.height_px = 200;
    wanted.view = preview::FitView(3000, 2000, 300, 200);
    return wanted;
  }

  fs::path folder_;
  std::unique_ptr<InventedSession> made_;
  std::unique_ptr<Desk> desk_;
  std::unique_ptr<Pictures> pictures_;
  std::atomic<int> rung_ = 0;
};

TEST_F(PicturesTest, AFrameIsShownWithItsCorrectionAndTheOriginalIsGoneSaysSo) {
  const PhotoId frame = made_->frames()[1];
  WantedPicture wanted = Wanted(frame, Showing::kCorrected);
  wanted.view.zoom = 0.5;  // finer than the cache holds
  const std::uint64_t ticket = pictures_->Ask(wanted);
  // The analysis picture comes at once; the file that would give a finer one does not exist.
  const auto made = Until([](const auto& all) { return !all.empty() && all.back().final; });
  ASSERT_FALSE(made.empty());
  EXPECT_EQ(made.back().ticket, ticket);
  ASSERT_EQ(made.back().shown.width, 300);
  EXPECT_NE(made.back().why, "");
  EXPECT_GT(rung_, 0);
  // Around its middle the picture is even enough to know what must be there.
  const auto cached = measure::ReadCached(folder_ / "invented.cache" /
                                          (desk_->book()->Frame(frame)->photo.hash + ".analysis"));
  ASSERT_TRUE(cached.ok());
  const float* p = cached->analysis.pixels.at(512, 341);
  const Vec3 want =
      render::Exact(look::Resolve(*desk_->CorrectionOf(frame)), color::Space::kSrgb, {p[0], p[1], p[2]});
  const std::uint32_t got = made.back().shown.argb[100 * 300 + 150];
  for (int c = 0; c < 3; ++c) EXPECT_NEAR(static_cast<int>(got >> (16 - 8 * c) & 255), 255 * want[c], 6);
}

TEST_F(PicturesTest, TheLastOneAskedForWins) {
  std::uint64_t last = 0;
  for (int i = 0; i < 60; ++i) {
    WantedPicture wanted = Wanted(made_->frames()[1], Showing::kCorrected);
    wanted.draft = true;
    record::Handles touch;
    touch.exposure_ev = i * 0.01;
    wanted.correction = desk_->CorrectionWith(wanted.photo, touch);
    last = pictures_->Ask(wanted);
  }
  const auto made = Until([&](const auto& all) { return !all.empty() && all.back().ticket == last; });
  ASSERT_FALSE(made.empty());
  EXPECT_EQ(made.back().ticket, last);
  EXPECT_LT(made.size(), 60u) << "those in between are passed over";
}

TEST_F(PicturesTest, ScansAndCameraRenderingsAndMarks) {
  pictures_->Ask(Wanted(made_->scans()[0], Showing::kOriginal));
  auto made = Until([](const auto& all) { return !all.empty(); });
  ASSERT_FALSE(made.empty());
  const preview::Shown scan = made[0].shown;
  ASSERT_FALSE(scan.empty());
  WantedPicture wanted = Wanted(made_->frames()[0], Showing::kOriginal);
  wanted.marks = true;
  pictures_->Ask(wanted);
  made = Until([&](const auto& all) { return !all.empty() && all.back().photo == wanted.photo; });
  ASSERT_FALSE(made.empty());
  EXPECT_EQ(made.back().shown.marks.size(), 300u * 200);
  EXPECT_NE(made.back().shown.argb, scan.argb) << "the camera's rendering is not the film's";
}

TEST_F(PicturesTest, WhatIsDroppedOrUnknownDoesNotCome) {
  pictures_->Ask(Wanted(PhotoId{9999}, Showing::kOriginal));
  const auto made = Until([](const auto& all) { return !all.empty(); });
  ASSERT_EQ(made.size(), 1u);
  EXPECT_TRUE(made[0].shown.empty());
  EXPECT_NE(made[0].why, "");
  pictures_->Ask(Wanted(made_->frames()[0], Showing::kCorrected));
  pictures_->Drop(1);
  std::this_thread::sleep_for(std::chrono::milliseconds(200));
  EXPECT_TRUE(pictures_->Poll().empty());
}

TEST_F(PicturesTest, ThumbnailsComeAndAreKept) {
  using Thumb = Pictures::Thumb;
  const std::vector<Thumb> wanted = {{made_->frames()[2], Showing::kCorrected},
                                     {made_->scans()[1], Showing::kOriginal},
                                     {made_->frames()[1], Showing::kOriginal},
                                     {made_->frames()[9], Showing::kOriginal}};  // has no picture
  const auto all_there = [&](Pictures& pictures) {
    std::set<Thumb> there;
    for (int i = 0; i < 1000 && there.size() < 3; ++i) {
      for (const Thumb& thumb : pictures.NewThumbnails()) there.insert(thumb);
      std::this_thread::sleep_for(std::chrono::milliseconds(5));
    }
    return there.size();
  };
  pictures_->WantThumbnails(wanted);
  ASSERT_EQ(all_there(*pictures_), 3u);
  const auto thumb = pictures_->Thumbnail(wanted[0]);
  ASSERT_NE(thumb, nullptr);
  EXPECT_EQ(thumb->height, kThumbnailHeight);
  EXPECT_EQ(thumb->width, 180);
  EXPECT_EQ(pictures_->Thumbnail(wanted[3]), nullptr);
  const auto packed = fs::file_size(folder_ / "invented.cache" / "thumbnails");
  EXPECT_GT(packed, 1000u);

  // Another window: from the pack alone.
  for (const auto& entry : fs::directory_iterator(folder_ / "invented.cache"))
    if (entry.path().filename() != "thumbnails") fs::remove(entry.path());
  Pictures again([] {});
  again.SetBook(desk_->book());
  again.WantThumbnails(wanted);
  EXPECT_EQ(all_there(again), 3u);
  EXPECT_EQ(fs::file_size(folder_ / "invented.cache" / "thumbnails"), packed);
}

TEST_F(PicturesTest, AChangedCorrectionMakesAnotherThumbnail) {
  const Pictures::Thumb thumb{made_->frames()[2], Showing::kCorrected};
  const auto come = [&] {
    for (int i = 0; i < 1000 && pictures_->NewThumbnails().empty(); ++i)
      std::this_thread::sleep_for(std::chrono::milliseconds(5));
    return pictures_->Thumbnail(thumb);
  };
  pictures_->WantThumbnails({thumb});
  const auto before = come();
  record::Handles touch;
  touch.exposure_ev = 1;
  desk_->Touch(thumb.photo, touch);
  pictures_->SetBook(desk_->book());
  const auto after = come();
  ASSERT_TRUE(before != nullptr && after != nullptr);
  EXPECT_NE(before->argb, after->argb);
}

TEST_F(PicturesTest, MonitorsAreTakenOrRefused) {
  EXPECT_FALSE(pictures_->SetMonitor({1, 2, 3}).ok());
  const auto icc = codec::ProfileOf(color::Space::kDisplayP3);
  ASSERT_TRUE(icc.ok());
  EXPECT_TRUE(pictures_->SetMonitor(*icc).ok());
  pictures_->Ask(Wanted(made_->frames()[1], Showing::kCorrected));
  EXPECT_FALSE(Until([](const auto& all) { return !all.empty(); }).empty());
  EXPECT_TRUE(pictures_->SetMonitor({}).ok());
}

// Photographs as they are right after their folder was named: files, but nothing measured yet.
class UnmeasuredPicturesTest : public PicturesTest {
 protected:
  void SetUp() override {
    PicturesTest::SetUp();
    auto book = std::make_shared<Book>();
    book->file = folder_ / "begun.samelight";
    book->measured = std::make_shared<const std::unordered_map<PhotoId, record::Measured>>();
    for (int i = 0; i < 4; ++i) {
      image::RgbU8 even(600, 400);
      std::fill(even.data().begin(), even.data().end(), static_cast<std::uint8_t>(40 + 50 * i));
      const auto jpeg = codec::EncodeJpeg(even, 95);
      ASSERT_TRUE(jpeg.ok());
      ScanRow row;
      row.photo.id = PhotoId{i + 1};
      row.photo.path = std::to_string(i) + ".jpg";
      row.photo.width_px = 600;
      row.photo.height_px = 400;
      ASSERT_TRUE(WriteFileWhole(folder_ / row.photo.path, *jpeg).ok());
      book->scans.push_back(row);
    }
    book->Index();
    book_ = book;
    pictures_->SetBook(book_);
  }
  WantedPicture Scan(int i) const {
    WantedPicture wanted = Wanted(PhotoId{i + 1}, Showing::kOriginal);
    wanted.slot = i;
    wanted.view = preview::FitView(600, 400, 300, 200);
    return wanted;
  }
  std::shared_ptr<const Book> book_;
};

TEST_F(UnmeasuredPicturesTest, EachIsDecodedFromItsFileOnce) {
  for (int i = 0; i < 4; ++i) pictures_->Ask(Scan(i));
  std::map<int, MadePicture> last;
  for (int i = 0; i < 1000 && last.size() < 4; ++i) {
    for (MadePicture& made : pictures_->Poll())
      if (made.final) last[made.slot] = std::move(made);
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
  }
  ASSERT_EQ(last.size(), 4u);
  for (int i = 0; i < 4; ++i)
    EXPECT_NEAR(static_cast<int>(last[i].shown.argb[100 * 300 + 150] & 255), 40 + 50 * i, 2)
        << "its own picture";
  const int rung = rung_;
  std::this_thread::sleep_for(std::chrono::milliseconds(100));
  EXPECT_EQ(rung_, rung) << "and then there is rest";
}

TEST_F(UnmeasuredPicturesTest, ThePicturesMayGoWhileTheyAreInWork) {
  for (int round = 0; round < 200; ++round) {
    Pictures brief([] {});
    brief.SetBook(book_);
    for (int i = 0; i < 4; ++i) brief.Ask(Scan(i));
    std::this_thread::sleep_for(std::chrono::microseconds(100 * (round % 40)));
  }
}

}  // namespace
}  // namespace samelight::job
