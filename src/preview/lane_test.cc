// The worker that does what was asked last, and the pack of thumbnails.
#include "preview/lane.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <atomic>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <future>
#include <thread>

#include "codec/write.h"
#include "preview/thumb_store.h"

namespace samelight::preview {
namespace {

namespace fs = std::filesystem;

TEST(Lane, TheLatestOfAPlaceWins) {
  Lane lane(Order::kOldestFirst);
  std::promise<void> gate, begun;
  std::vector<int> done;
  lane.Post(1, [&](const Cancel& cancel) {
    begun.set_value();
    gate.get_future().wait();
    EXPECT_TRUE(cancel.requested()) << "a newer task of this place was posted";
  });
  begun.get_future().wait();
  for (int i = 0; i < 10; ++i) lane.Post(1, [&done, i](const Cancel&) { done.push_back(i); });
  lane.Post(2, [&done](const Cancel& cancel) { done.push_back(cancel.requested() ? -1 : 100); });
  lane.PostOnce(2, [&done](const Cancel&) { done.push_back(200); });
  gate.set_value();
  lane.Wait();
  EXPECT_EQ(done, (std::vector<int>{9, 100}));
}

TEST(Lane, NewestFirstAndDropped) {
  Lane lane(Order::kNewestFirst);
  std::promise<void> gate, begun;
  std::vector<int> done;
  lane.Post(0, [&](const Cancel&) {
    begun.set_value();
    gate.get_future().wait();
  });
  begun.get_future().wait();
  for (int i = 1; i < 5; ++i) lane.Post(i, [&done, i](const Cancel&) { done.push_back(i); });
  lane.Drop(3);
  gate.set_value();
  lane.Wait();
  EXPECT_EQ(done, (std::vector<int>{4, 2, 1}));
}

TEST(Lane, TakesNothingOnceItIsClosed) {
  Lane lane(Order::kOldestFirst);
  std::atomic<int> done = 0;
  lane.Post(1, [&](const Cancel& cancel) {
    ++done;
    // The last of its work asks for more, as drawing does for a finer picture.
    while (!cancel.requested()) std::this_thread::yield();
    lane.Post(2, [&](const Cancel&) { ++done; });
  });
  while (done == 0) std::this_thread::yield();
  lane.Close();
  lane.Post(3, [&](const Cancel&) { ++done; });
  lane.PostOnce(4, [&](const Cancel&) { ++done; });
  lane.Wait();
  EXPECT_EQ(done, 1);
}

TEST(Lane, EndsSoonWithWorkLeft) {
  std::atomic<int> done = 0;
  const auto begun = std::chrono::steady_clock::now();
  {
    Lane lane(Order::kOldestFirst);
    for (int i = 0; i < 1000; ++i)
      lane.Post(i, [&done](const Cancel& cancel) {
        for (int k = 0; k < 100 && !cancel.requested(); ++k)
          std::this_thread::sleep_for(std::chrono::milliseconds(1));
        ++done;
      });
  }
  EXPECT_LT(done, 100);
  EXPECT_LT(std::chrono::steady_clock::now() - begun, std::chrono::seconds(2));
}

class ThumbStoreTest : public testing::Test {
 protected:
  void SetUp() override {
    file_ = fs::temp_directory_path() / ("samelight-thumbs-" + std::to_string(::getpid()));
    fs::remove(file_);
  }
  void TearDown() override { fs::remove(file_); }
  static std::string Key(int i) {
    char text[33];
    std::snprintf(text, sizeof text, "%032x", i);
    return text;
  }
  fs::path file_;
};

TEST_F(ThumbStoreTest, ComesBackAndTheLastOfAKeyCounts) {
  {
    ThumbStore store(file_);
    for (int i = 0; i < 50; ++i)
      store.Put(Key(i), std::vector<std::uint8_t>(100 + i, static_cast<std::uint8_t>(i)));
    store.Put(Key(7), {1, 2, 3});
    store.Put("no key", {1});
    store.Put(Key(60), {});
  }
  ThumbStore again(file_);
  EXPECT_EQ(again.size(), 50u);
  EXPECT_EQ(again.Get(Key(7)), (std::vector<std::uint8_t>{1, 2, 3}));
  EXPECT_EQ(again.Get(Key(9)), std::vector<std::uint8_t>(109, 9));
  EXPECT_TRUE(again.Get(Key(60)).empty());
}

TEST_F(ThumbStoreTest, ACutOrDamagedEndIsLeftOutAndWritingGoesOn) {
  {
    ThumbStore store(file_);
    for (int i = 0; i < 10; ++i)
      store.Put(Key(i), std::vector<std::uint8_t>(500, static_cast<std::uint8_t>(i)));
  }
  fs::resize_file(file_, fs::file_size(file_) - 200);
  {
    ThumbStore store(file_);
    EXPECT_EQ(store.size(), 9u);
    store.Put(Key(20), {4, 5});
  }
  ThumbStore store(file_);
  EXPECT_EQ(store.size(), 10u);
  EXPECT_EQ(store.Get(Key(20)), (std::vector<std::uint8_t>{4, 5}));
  std::ofstream(file_, std::ios::binary) << "something else entirely, longer than a head would be";
  EXPECT_EQ(ThumbStore(file_).size(), 0u);
  EXPECT_EQ(ThumbStore("/nowhere/at/all").size(), 0u);
}

TEST_F(ThumbStoreTest, OldEntriesDoNotFillTheDisk) {
  {
    ThumbStore store(file_);
    for (int i = 0; i < 400; ++i)
      store.Put(Key(1), std::vector<std::uint8_t>(10'000, static_cast<std::uint8_t>(i)));
  }
  EXPECT_GT(fs::file_size(file_), 3'000'000u);
  EXPECT_EQ(ThumbStore(file_).size(), 1u);
  EXPECT_LT(fs::file_size(file_), 20'000u);
}

TEST_F(ThumbStoreTest, ThumbnailsDecodeAsTheyWereEncoded) {
  image::RgbU8 pixels(60, 40);
  for (int y = 0; y < 40; ++y)
    for (int x = 0; x < 60; ++x)
      for (int c = 0; c < 3; ++c) pixels.at(x, y)[c] = static_cast<std::uint8_t>(40 + 2 * x + y + 20 * c);
  const auto jpeg = codec::EncodeJpeg(pixels, 95);
  ASSERT_TRUE(jpeg.ok());
  const auto back = DecodeThumb(*jpeg);
  ASSERT_TRUE(back.ok());
  ASSERT_EQ(back->width(), 60);
  for (std::size_t i = 0; i < pixels.data().size(); ++i) ASSERT_NEAR(back->data()[i], pixels.data()[i], 8);
  EXPECT_FALSE(DecodeThumb({1, 2, 3}).ok());
}

}  // namespace
}  // namespace samelight::preview
