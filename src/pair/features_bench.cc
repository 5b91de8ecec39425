// Which local features find a photograph again: ours, and SIFT, AKAZE and ORB of OpenCV, on re-framed public
// photographs (other framing, turned by 90 degrees, half to two stops darker, warm or cool, black-and-white,
// grain). Each is followed by the same geometric check; the neighbours of the other kinds are found by
// OpenCV's brute force, ours by the matcher of this folder. One thread.
#include <benchmark/benchmark.h>

#include <ctime>
#include <opencv2/core.hpp>
#include <opencv2/features2d.hpp>

#include "image/alone.h"
#include "pair/evidence.h"
#include "pair/reframe_testing.h"

namespace samelight::pair {
namespace {

using namespace testing;

constexpr int kMost = 1000;
constexpr int kViews = 4;
enum Kind { kOwn, kSift, kAkaze, kOrb };

double CpuSeconds() { return static_cast<double>(std::clock()) / CLOCKS_PER_SEC; }

struct Described {
  measure::Features features;
  cv::Mat rows;  // of OpenCV's kinds
};

// The picture as our own features see it: luminance, locally normalised.
cv::Mat Grey(const image::RgbF& picture) {
  const image::PlaneF y = image::ShrinkTo(image::Luminance(picture), 720);
  image::PlaneU8 valid(y.width(), y.height());
  std::fill(valid.data().begin(), valid.data().end(), 1);
  image::PlaneF n = measure::LocallyNormalisedLog(y, valid, 30);
  cv::Mat grey;
  cv::Mat(n.height(), n.width(), CV_32F, n.data().data()).convertTo(grey, CV_8U, 48, 128);
  return grey;
}

Described Describe(const image::RgbF& picture, Kind kind) {
  Described out;
  if (kind == kOwn) {
    out.features = FeaturesOf(picture);
    return out;
  }
  const cv::Mat grey = Grey(picture);
  cv::Ptr<cv::Feature2D> finder;
  if (kind == kSift) finder = cv::SIFT::create(kMost);
  if (kind == kAkaze) finder = cv::AKAZE::create();
  if (kind == kOrb) finder = cv::ORB::create(kMost);
  std::vector<cv::KeyPoint> points;
  finder->detect(grey, points);
  cv::KeyPointsFilter::retainBest(points, kMost);
  finder->compute(grey, points, out.rows);
  for (const cv::KeyPoint& p : points)
    out.features.points.push_back({(p.pt.x + 0.5f) / static_cast<float>(grey.cols),
                                   (p.pt.y + 0.5f) / static_cast<float>(grey.rows), p.size, p.angle});
  return out;
}

std::vector<Match> Nearest(const Described& a, const Described& b, Kind kind) {
  if (kind == kOwn) return TargetSide(b.features, kMost).Find(QuerySide(a.features, kMost), kRatio);
  std::vector<Match> out;
  if (a.rows.rows < 2 || b.rows.rows < 2) return out;
  const cv::BFMatcher matcher(kind == kSift ? cv::NORM_L2 : cv::NORM_HAMMING);
  std::vector<std::vector<cv::DMatch>> two;
  std::vector<cv::DMatch> back;
  matcher.knnMatch(a.rows, b.rows, two, 2);
  matcher.match(b.rows, a.rows, back);
  for (const auto& m : two)
    if (m.size() == 2 && m[0].distance < kRatio * m[1].distance &&
        back[m[0].trainIdx].trainIdx == m[0].queryIdx)
      out.push_back({m[0].queryIdx, m[0].trainIdx, m[0].distance / m[1].distance});
  return out;
}

void Find(benchmark::State& state) {
  const Kind kind = static_cast<Kind>(state.range(0));
  image::WorkAlone();
  auto files = PicturesIn(std::filesystem::path(SAMELIGHT_ASSETS_DIR) / "people");
  const auto more = PicturesIn(std::filesystem::path(SAMELIGHT_ASSETS_DIR) / "photos");
  for (std::size_t i = 0; i < more.size(); i += 3) files.push_back(more[i]);
  std::vector<image::RgbF> scenes;
  for (const auto& file : files)
    if (image::RgbF scene = Photograph(file); !scene.empty()) scenes.push_back(std::move(scene));
  if (scenes.size() < 4) return state.SkipWithError("the photographs were not fetched");
  struct Seen {
    std::size_t scene;
    image::RgbF picture;
  };
  std::vector<Seen> views;
  for (std::size_t i = 0; i < scenes.size(); ++i)
    for (int k = 0; k < kViews; ++k) {
      Dice dice(31 * i + static_cast<std::size_t>(k));
      Framing f = AnotherFraming(dice);
      f.zoom = dice.Uniform(1.2, 2.4);
      if (k == 1) f.angle_deg += 90;
      Rendering r = AnotherRendering(dice);
      r.exposure_ev = -0.5 * (k + 1);
      r.black_and_white = k == 3;
      r.grain = dice.Uniform(0.03, 0.1);
      views.push_back({i, SeenAgain(scenes[i], f, r, i * 10 + static_cast<std::size_t>(k))});
    }
  double describing = 0, matching = 0, worst = 0;
  int found = 0, claimed = 0, right = 0;
  for (auto _ : state) {
    double start = CpuSeconds();
    std::vector<Described> base, seen;
    for (const image::RgbF& s : scenes) base.push_back(Describe(s, kind));
    for (const Seen& v : views) seen.push_back(Describe(v.picture, kind));
    describing = CpuSeconds() - start;
    start = CpuSeconds();
    for (std::size_t i = 0; i < views.size(); ++i)
      for (std::size_t j = 0; j < scenes.size(); ++j) {
        const View a(seen[i].features, views[i].picture.width(), views[i].picture.height()),
            b(base[j].features, scenes[j].width(), scenes[j].height());
        const Verified v = Agree(a, b, Nearest(seen[i], base[j], kind), false);
        const bool same = j == views[i].scene;
        if (!same) worst = std::max(worst, v.evidence);
        if (!Verifies(v)) continue;
        ++claimed;
        right += same;
        found += same && GoodForCells(v);
      }
    matching = CpuSeconds() - start;
  }
  const double pictures = static_cast<double>(scenes.size() + views.size());
  const double pairs = static_cast<double>(scenes.size() * views.size());
  state.SetLabel(std::vector<std::string>{"ours", "SIFT", "AKAZE", "ORB"}[kind]);
  state.counters["views"] = static_cast<double>(views.size());
  state.counters["found"] = found;
  state.counters["precision"] = claimed ? static_cast<double>(right) / claimed : 1;
  state.counters["worst_wrong"] = worst;
  state.counters["describe_ms"] = 1e3 * describing / pictures;
  state.counters["match_ms"] = 1e3 * matching / pairs;
  // Of a session of 36 scans and 800 frames: each described once, each scan against each frame.
  state.counters["session_s"] = describing / pictures * 836 + matching / pairs * 36 * 800;
}
BENCHMARK(Find)->Arg(kOwn)->Arg(kSift)->Arg(kAkaze)->Arg(kOrb)->Iterations(1)->Unit(benchmark::kSecond);

}  // namespace
}  // namespace samelight::pair
