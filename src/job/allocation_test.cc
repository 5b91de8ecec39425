// A delivery takes no memory for pixels once its first picture is out. Sanitizers have allocation functions
// of their own; the release build runs this test.
#if !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#include "base/allocations_testing.h"
#include "base/task_pool.h"
#include "job/delivery_testing.h"

namespace samelight::job {
namespace {

class AllocationTest : public testing::DeliveryTest {
 protected:
  void TearDown() override {
    SetWorkers(0);
    DeliveryTest::TearDown();
  }
  // Allocations of at least `bytes` while the first `frames` of the session are delivered.
  long Count(std::size_t frames, std::size_t bytes, const std::string& format) const {
    DeliverOptions options;
    options.again = true;
    options.fields = {{"format", format}, {"grain", "off"}, {"sharpening", "50"}};
    const auto photos = Open()->Photos();
    for (std::size_t i = 0; i < frames; ++i) options.only.push_back((*photos)[i].id);
    samelight::testing::g_allocations.least = bytes;
    const long before = samelight::testing::g_allocations.count;
    const auto answer = Deliver(options);
    const long after = samelight::testing::g_allocations.count;
    EXPECT_TRUE(answer.ok() && answer->written == static_cast<int>(frames));
    return after - before;
  }
};

TEST_F(AllocationTest, PixelsOfLaterPicturesTakeNoNewMemory) {
  constexpr int kWidth = 900, kHeight = 600;
  Make(5, 0, kWidth, kHeight);
  for (const int workers : {1, 2}) {
    SetWorkers(workers);
    // Files of these pictures are smaller than their pixels of 8 bits, those of 16 bits are not.
    constexpr std::size_t kEight = 3 * kWidth * kHeight;
    EXPECT_GT(Count(1, kEight, "jpeg"), 0) << "the first one does";
    if (workers == 1) EXPECT_EQ(Count(5, kEight, "jpeg"), Count(1, kEight, "jpeg"));
    EXPECT_LE(Count(5, kEight, "jpeg"), 2 * workers);
    EXPECT_LE(Count(5, 4 * kEight, "tiff16"), workers) << "the decoded picture";
  }
}

// Straightened ones pass through floats twice.
TEST_F(AllocationTest, NorDoPixelsOfFramedPictures) {
  constexpr int kWidth = 900, kHeight = 600;
  Make(4, 0, kWidth, kHeight);
  {
    const auto session = Open();
    auto photos = session->Photos();
    auto change = session->Begin();
    for (record::Photo& photo : *photos) {
      photo.crop = record::Crop{0.05, 0.05, 0.95, 0.95, 2};
      ASSERT_TRUE(change->Put(photo).ok());
    }
    ASSERT_TRUE(change->Commit().ok());
  }
  SetWorkers(1);
  constexpr std::size_t kFloats = 12 * kWidth * kHeight / 2;
  EXPECT_EQ(Count(1, kFloats, "jpeg"), 2) << "as decoded and as framed";
  EXPECT_EQ(Count(4, kFloats, "jpeg"), 2);
}

}  // namespace
}  // namespace samelight::job
#endif
