// The proof sheet (invented report).
#include "report/proof.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace samelight::report {
namespace {

using testing::HasSubstr;
using testing::Not;

Report SomeReport() {
  Report report;
  report.session = "A & B <wedding>";
  for (int i = 1; i <= 4; ++i) {
    record::Photo photo;
    photo.id.value = i;
    photo.role = i == 4 ? record::Role::kScan : record::Role::kFrame;
    photo.path = "digital/000" + std::to_string(i) + ".dng";
    report.photos.push_back(photo);
  }
  record::Light light;
  light.id.value = 0;
  light.name = "open shade";
  light.frames = {PhotoId{1}, PhotoId{2}};
  report.lights.push_back(light);
  return report;
}

TEST(Proof, EveryFrameOnceByLightWithRoomForNotes) {
  std::vector<PhotoId> asked;
  const std::string page = ProofText(SomeReport(), [&](PhotoId id, Version version, int px) {
    EXPECT_EQ(version, Version::kDelivered);
    EXPECT_GT(px, 200);
    asked.push_back(id);
    return id.value == 2 ? std::vector<std::uint8_t>() : std::vector<std::uint8_t>{0xff, 0xd8, 0xff};
  });
  EXPECT_EQ(asked, (std::vector<PhotoId>{{1}, {2}, {3}})) << "no scan";
  EXPECT_THAT(page, HasSubstr("<h1>A &amp; B &lt;wedding&gt;</h1>"));
  EXPECT_THAT(page, HasSubstr("<h2>open shade <small>2 frames</small></h2>"));
  EXPECT_THAT(page, HasSubstr("<h2>other frames <small>1 frame</small></h2>"));
  EXPECT_THAT(page, HasSubstr("data:image/jpeg;base64,/9j/"));
  EXPECT_THAT(page, HasSubstr("<div class=none></div><figcaption><b>0002.dng</b>"));
  std::size_t notes = 0;
  for (std::size_t at = page.find("<textarea"); at != std::string::npos; at = page.find("<textarea", at + 1))
    ++notes;
  EXPECT_EQ(notes, 3u);
  // Nothing is loaded and nothing runs.
  EXPECT_THAT(page, Not(HasSubstr("<script")));
  EXPECT_THAT(page, Not(HasSubstr("http:")));
  EXPECT_THAT(page, HasSubstr("default-src 'none'"));
}

}  // namespace
}  // namespace samelight::report
