// Sharpness brought to that of scans, judged by the slanted edge of ISO 12233 on invented charts whose lens,
// film and processing are known.
#include "render/acutance.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <vector>

#include "image/resize.h"
#include "render/render.h"
#include "render/samples_test.h"

namespace samelight::render {
namespace {

constexpr int kSide = 1280;

// How a picture was taken: blur, an unsharp mask as labs apply it, noise; in encoded values.
struct Taking {
  double blur_px, unsharp = 0, noise = 0;
};

image::RgbF Taken(image::PlaneF scene, const Taking& how, unsigned seed) {
  scene = image::Blur(scene, how.blur_px);
  if (how.unsharp > 0) {
    const image::PlaneF soft = image::Blur(scene, 1);
    for (std::size_t i = 0; i < scene.data().size(); ++i)
      scene.data()[i] += static_cast<float>(how.unsharp) * (scene.data()[i] - soft.data()[i]);
  }
  Dice dice(seed);
  image::RgbF out(scene.width(), scene.height());
  for (std::size_t i = 0; i < scene.data().size(); ++i) {
    const double noise = how.noise * (dice.Between(-1, 1) + dice.Between(-1, 1));
    const double linear = color::Decode(color::Space::kSrgb,
                                        std::clamp(static_cast<double>(scene.data()[i]) + noise, 0.0, 1.0));
    for (std::size_t c = 0; c < 3; ++c) out.data()[3 * i + c] = static_cast<float>(linear);
  }
  return out;
}

// Leaves of random size and brightness over each other: edges of every direction, as photographs have.
image::PlaneF Leaves(unsigned seed) {
  Dice dice(seed);
  image::PlaneF v(kSide, kSide);
  std::fill(v.data().begin(), v.data().end(), 0.5f);
  for (int i = 0; i < 900; ++i) {
    const double r = 16 / std::sqrt(dice.Between(0.01, 1)), x = dice.Between(0, kSide),
                 y = dice.Between(0, kSide), turn = dice.Between(0, std::numbers::pi);
    const float grey = static_cast<float>(dice.Between(0.2, 0.8));
    const double c = std::cos(turn), s = std::sin(turn);
    for (int yy = std::max(0, static_cast<int>(y - 2 * r)); yy < std::min<double>(kSide, y + 2 * r); ++yy)
      for (int xx = std::max(0, static_cast<int>(x - 2 * r)); xx < std::min<double>(kSide, x + 2 * r); ++xx) {
        const double u = c * (xx - x) + s * (yy - y), w = c * (yy - y) - s * (xx - x);
        if (std::abs(u) < 1.6 * r && std::abs(w) < r) *v.at(xx, yy) = grey;
      }
  }
  return v;
}

// The edge of ISO 12233: slanted by 5 degrees, low contrast (about 4 to 1 in light).
image::PlaneF SlantedEdge() {
  image::PlaneF v(200, 200);
  const double slope = std::tan(5 * std::numbers::pi / 180);
  for (int y = 0; y < 200; ++y)
    for (int x = 0; x < 200; ++x) {
      const double away = x - 100 - slope * (y - 100);
      *v.at(x, y) = static_cast<float>(0.35 + 0.3 * std::clamp(away + 0.5, 0.0, 1.0));
    }
  return v;
}

struct Slanted {
  double mtf50;      // cycles a pixel
  double overshoot;  // share of the step
};

// e-SFR of ISO 12233:2017, annex on the edge-based method, as Burns, "Slanted-edge MTF for digital camera and
// scanner analysis", Proc. IS&T PICS 2000, 135-138, describes it: centroid of each line's derivative, a line
// fitted through them, four bins a pixel along it, derivative, Hamming window, Fourier transform. Steps from
// memory. Shares no code with what it judges.
Slanted MeasureSlantedEdge(const image::RgbU16& picture) {
  const int w = picture.width(), h = picture.height();
  std::vector<double> place(static_cast<std::size_t>(h));
  const auto luma = [&](int x, int y) { return picture.at(x, y)[1] / 65535.0; };
  for (int y = 0; y < h; ++y) {
    double sum = 0, first = 0;
    for (int x = 40; x + 40 < w; ++x) {
      const double window = 0.54 + 0.46 * std::cos(2 * std::numbers::pi * (x - w / 2) / (w - 80));
      const double d = window * (luma(x + 1, y) - luma(x - 1, y));
      sum += d;
      first += d * x;
    }
    place[static_cast<std::size_t>(y)] = first / sum;
  }
  double sy = 0, sx = 0, syy = 0, sxy = 0;
  for (int y = 0; y < h; ++y) {
    sy += y;
    sx += place[static_cast<std::size_t>(y)];
    syy += double(y) * y;
    sxy += y * place[static_cast<std::size_t>(y)];
  }
  const double slope = (h * sxy - sx * sy) / (h * syy - sy * sy), at0 = (sx - slope * sy) / h;
  constexpr int kBins = 4 * 64;
  std::vector<double> profile(kBins), count(kBins);
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x) {
      const int bin = static_cast<int>(std::floor(4 * (x - at0 - slope * y))) + kBins / 2;
      if (bin < 0 || bin >= kBins) continue;
      profile[static_cast<std::size_t>(bin)] += luma(x, y);
      ++count[static_cast<std::size_t>(bin)];
    }
  for (std::size_t b = 0; b < profile.size(); ++b) profile[b] /= count[b];
  double dark = 0, bright = 0;
  for (std::size_t b = 0; b < 64; ++b) {
    dark += profile[b + 8] / 64;
    bright += profile[profile.size() - 9 - b] / 64;
  }
  Slanted out{0, 0};
  const auto [low, high] = std::minmax_element(profile.begin() + 64, profile.end() - 64);
  out.overshoot = 0.5 * ((*high - bright) + (dark - *low)) / (bright - dark);
  double at_zero = 0, before = 1;
  for (int f = 0; f <= 100; ++f) {
    const double frequency = f / 100.0;
    double c = 0, s = 0;
    for (int b = 1; b + 1 < kBins; ++b) {
      const double window = 0.54 + 0.46 * std::cos(2 * std::numbers::pi * (b - kBins / 2) / kBins);
      const double d =
          window * (profile[static_cast<std::size_t>(b) + 1] - profile[static_cast<std::size_t>(b) - 1]);
      c += d * std::cos(2 * std::numbers::pi * frequency * b / 4);
      s += d * std::sin(2 * std::numbers::pi * frequency * b / 4);
    }
    double response = std::hypot(c, s);
    if (f == 0) at_zero = response;
    // Central differences two bins apart take this much (ISO 12233, correction of the derivative).
    const double t = 2 * std::numbers::pi * frequency / 4;
    response = response / at_zero / (t > 0 ? std::sin(t) / t : 1);
    if (response < 0.5) {
      out.mtf50 = frequency - 0.01 * (0.5 - response) / (before - response);
      return out;
    }
    before = response;
  }
  return out;
}

// The correction that leaves display-referred pictures as they are.
RenderOptions AsTheyAre() {
  RenderOptions options;
  options.dither = false;
  return options;
}

// What the two takings show of the same scenes.
Acutance Compared(const Taking& film, const Taking& digital) {
  std::vector<EdgePair> same;
  image::RgbU8 encoded;
  for (unsigned i = 0; i < 2; ++i) {
    const image::PlaneF scene = Leaves(1 + i);
    EXPECT_TRUE(RenderAsItIs(Taken(scene, film, 10 + i), AsTheyAre(), encoded).ok());
    const std::vector<Edge> scan = FindEdges(encoded);
    EXPECT_TRUE(RenderAsItIs(Taken(scene, digital, 20 + i), AsTheyAre(), encoded).ok());
    const auto pairs = SameEdges(scan, kSide, kSide, FindEdges(encoded), kSide, kSide,
                                 [](double x, double y) { return std::pair(x, y); });
    same.insert(same.end(), pairs.begin(), pairs.end());
  }
  return CompareEdges(same, kSide);
}

Slanted Delivered(const Taking& how, const Sharpening& sharpening) {
  RenderOptions options = AsTheyAre();
  options.acutance = sharpening;
  image::RgbU16 out;
  EXPECT_TRUE(RenderAsItIs(Taken(SlantedEdge(), how, 77), options, out).ok());
  return MeasureSlantedEdge(out);
}

struct Case {
  const char* what;
  Taking film, digital;
};

TEST(AcutanceTest, SlantedEdgeOfFramesIsBroughtToThatOfScans) {
  const Case cases[] = {
      {"alike", {0.8, 0, 0.03}, {0.8, 0, 0.004}},
      {"softer film", {1.1, 0, 0.03}, {0.7, 0, 0.004}},
      {"crisper film", {0.6, 0, 0.03}, {0.8, 0, 0.004}},
      {"lab's sharpening", {0.8, 0.6, 0.03}, {0.8, 0, 0.004}},
      {"sharpened frames", {0.9, 0, 0.03}, {0.7, 0.5, 0.004}},
      {"noisy frames", {0.7, 0, 0.03}, {0.8, 0, 0.03}},
  };
  for (const Case& c : cases) {
    const Acutance acutance = Compared(c.film, c.digital);
    ASSERT_GT(acutance.long_side_px, 0) << c.what;
    const Sharpening sharpening = SharpeningFor(acutance, kSide);
    const Slanted film = Delivered(c.film, {}), before = Delivered(c.digital, {}),
                  after = Delivered(c.digital, sharpening);
    std::printf("%-18s gain %5.2f  MTF50 scan %.3f frame %.3f delivered %.3f  overshoot %.3f %.3f %.3f\n",
                c.what, sharpening.gain, film.mtf50, before.mtf50, after.mtf50, film.overshoot,
                before.overshoot, after.overshoot);
    EXPECT_NEAR(after.mtf50 / film.mtf50, 1, 0.1) << c.what;
    EXPECT_LT(after.overshoot, std::max(film.overshoot, before.overshoot) + 0.02) << c.what;
  }
}

TEST(AcutanceTest, TooLittleIsNothing) {
  EXPECT_TRUE(FindEdges(image::RgbU8(30, 30)).empty());
  EXPECT_TRUE(FindEdges(image::RgbU8(300, 300)).empty());
  EXPECT_EQ(CompareEdges({}, 1000).long_side_px, 0);
  EXPECT_EQ(SharpeningFor({}, 1000).gain, 0);
}

}  // namespace
}  // namespace samelight::render
