#include "pair/seen.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "pair/session_testing.h"

namespace samelight::pair {
namespace {

using ::testing::HasSubstr;
using testing::Session;

// Invented: a burst of three, another frame of the same things a minute later, two faulty ones.
struct Burst : Session {
  std::vector<PhotoId> frames;
  Burst() {
    const double times[] = {0, 1.5, 3, 63, 300, 600};
    const int scenes[] = {0, 0, 0, 0, 1, 2};
    for (int i = 0; i < 6; ++i)
      frames.push_back(AddFrame(scenes[i], static_cast<std::uint64_t>(i) + 1, times[i]));
    const double sharpness[] = {7, 9, 4, 12, 8, 8};
    for (int i = 0; i < 6; ++i) FactsOf(frames[i]).measured.sharpness = sharpness[i];
    FactsOf(frames[4]).measured.clipped_high = 0.3;
    FactsOf(frames[5]).measured.note = "unsharp: no fine edge anywhere";
  }
  std::vector<std::string> Of(PhotoId id, const std::vector<record::Note>& notes) const {
    std::vector<std::string> out;
    for (const record::Note& n : notes)
      if (n.photo == id) out.push_back(n.text);
    return out;
  }
};

TEST(Seen, BurstsWithTheSharpestAndFaultsAreNotedAndNothingElse) {
  const Burst s;
  const Pairing p = s.Pair();
  ASSERT_EQ(s.Of(s.frames[1], p.notes).size(), 1u);
  EXPECT_EQ(s.Of(s.frames[1], p.notes)[0], "the sharpest of 3 of one moment");
  EXPECT_THAT(s.Of(s.frames[0], p.notes)[0], HasSubstr("one of 3 of one moment; the sharpest is 1"));
  EXPECT_THAT(s.Of(s.frames[2], p.notes)[0], HasSubstr("much less sharp"));
  EXPECT_TRUE(s.Of(s.frames[3], p.notes).empty()) << "a minute later is another moment";
  EXPECT_EQ(s.Of(s.frames[4], p.notes)[0], "30 % of the picture is clipped white");
  EXPECT_EQ(s.Of(s.frames[5], p.notes)[0], "unsharp: no fine edge anywhere");
  std::size_t frames = 0;
  for (const record::Light& l : p.lights) frames += l.frames.size();
  EXPECT_EQ(frames, 6u) << "noted, never acted upon";
}

}  // namespace
}  // namespace samelight::pair
