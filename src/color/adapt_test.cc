#include "color/adapt.h"

#include <map>
#include <random>

#include "color/published_test.h"
#include "color/space.h"

namespace samelight::color {
namespace {

// Every method that has a name must have lines in the tables.
const std::map<AdaptMethod, std::string>& LineOf() {
  static const std::map<AdaptMethod, std::string> lines{{AdaptMethod::kBradford, "bradford"},
                                                        {AdaptMethod::kCat16, "cat16"}};
  return lines;
}

TEST(Adapt, EveryMethodHasALine) {
  int named = 0;
  for (; Name(static_cast<AdaptMethod>(named))[0] != 0; ++named)
    EXPECT_TRUE(LineOf().contains(static_cast<AdaptMethod>(named))) << Name(static_cast<AdaptMethod>(named));
  EXPECT_EQ(LineOf().size(), static_cast<std::size_t>(named));
}

// Lam 1985 (ICC.1, Annex E) and Li et al. 2017. CAT02 and von Kries are in the table and not in the program.
TEST(Adapt, ConeMatrices) {
  for (const auto& [method, line] : LineOf()) {
    int found = 0;
    for (const Row& row : Published("cat_matrices.csv", 12)) {
      if (row.Text("transform") != line) continue;
      ++found;
      ExpectNear(ConeFromXyz(method)[static_cast<int>(row["row"]) - 1], row.Three("c1", "c2", "c3"), 0, line);
    }
    EXPECT_EQ(found, 3) << line;
  }
}

// Full adaptation between A, D50 and D65, 7 decimals; D65 to D50 by Bradford is widely published.
TEST(Adapt, MatricesBetweenCommonWhites) {
  for (const auto& [method, line] : LineOf()) {
    int found = 0;
    for (const Row& row : Published("cat_adaptation_matrices.csv", 45)) {
      if (row.Text("transform") != line) continue;
      ++found;
      const Mat3 m = Adaptation(row.Three("Xs", "Ys", "Zs"), row.Three("Xd", "Yd", "Zd"), method);
      ExpectNear(m[static_cast<int>(row["row"]) - 1], row.Three("c1", "c2", "c3"), 0.5e-7 + 1e-12,
                 line + " " + row.Text("from") + " to " + row.Text("to"));
    }
    EXPECT_GE(found, 12) << line;
  }
}

// Zhai, Luo 2018, two steps through a white `wo` with degrees Db and Dd; the cases of CAT16, 6 decimals. The
// second step is the inverse of an adaptation from the goal to wo.
TEST(Adapt, WorkedExamplesInTwoStepsWithDegree) {
  int found = 0;
  for (const Row& row : Published("cat_worked_examples.csv", 4)) {
    if (row.Text("transform") != "cat16") continue;
    ++found;
    const Vec3 wo = row.Three("Xwo", "Ywo", "Zwo");
    const Mat3 there = Adaptation(row.Three("Xwb", "Ywb", "Zwb"), wo, AdaptMethod::kCat16, row["Db"]);
    const Mat3 back = Inverse(Adaptation(row.Three("Xwd", "Ywd", "Zwd"), wo, AdaptMethod::kCat16, row["Dd"]));
    ExpectNear(Mul(back, Mul(there, row.Three("Xb", "Yb", "Zb"))), row.Three("Xd", "Yd", "Zd"), 0.5e-6 + 1e-9,
               "case " + std::to_string(found));
  }
  EXPECT_EQ(found, 2);
}

TEST(Adapt, MovesTheWhiteGoesRoundAndDegreeZeroDoesNothing) {
  const Vec3 warm = XyzFromXy({0.44758, 0.40745}), day = XyzFromXy(kD65);
  for (const auto& [method, line] : LineOf()) {
    ExpectNear(Mul(Adaptation(warm, day, method), warm), day, 1e-14, line);
    ExpectNear(Mul(Adaptation(day, warm, method), Adaptation(warm, day, method)), kIdentity3, 1e-12, line);
    ExpectNear(Adaptation(warm, day, method, 0.0), kIdentity3, 1e-12, line);
    ExpectNear(Adaptation(day, day, method), kIdentity3, 1e-12, line);
  }
}

}  // namespace
}  // namespace samelight::color
