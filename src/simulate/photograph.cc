#include "simulate/photograph.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "codec/read.h"
#include "color/space.h"
#include "image/resize.h"
#include "simulate/random.h"

namespace samelight::simulate {
namespace {

float LuminanceOf(const float* srgb) { return 0.2126f * srgb[0] + 0.7152f * srgb[1] + 0.0722f * srgb[2]; }

std::uint64_t HashOf(const std::string& text) {
  std::uint64_t hash = 0xcbf29ce484222325ull;  // FNV-1a
  for (unsigned char c : text) hash = (hash ^ c) * 0x100000001b3ull;
  return hash;
}

// Smooth random values in 0..1 over a small plane: bicubic enlargement of a coarse grid.
image::PlaneF SlowNoise(int width, int height, int cells, std::uint64_t seed) {
  const int rows = std::max(2, cells * height / std::max(width, 1));
  image::RgbF grid(cells, rows);
  Random random(seed, {0x5107});
  for (float& v : grid.data()) v = static_cast<float>(random.Uniform());
  const image::RgbF large = image::ResizeTo(grid, std::max(width, cells), std::max(height, rows));
  image::PlaneF out(large.width(), large.height());
  for (std::size_t i = 0; i < out.pixels(); ++i) out.data()[i] = std::clamp(large.data()[3 * i], 0.0f, 1.0f);
  return out;
}

// Undoes, roughly, what a camera's tone curve did to a photograph: softer slope around mid-grey, highlights
// lifted above the clipping point, colours a little quieter.
void ToScene(image::RgbF& picture) {
  for (std::size_t i = 0; i < picture.pixels(); ++i) {
    float* p = picture.data().data() + 3 * i;
    const float y = std::max(LuminanceOf(p), 1e-5f);
    const float t = std::clamp((y - 0.45f) / 0.5f, 0.0f, 1.0f);
    const float scene = 0.18f * std::pow(y / 0.18f, 0.87f) * (1 + 1.6f * t * t * t) + 0.0015f;
    for (int c = 0; c < 3; ++c) p[c] = std::max(0.0f, (y + 0.9f * (p[c] - y)) * scene / y);
  }
}

void BringLevel(image::RgbF& picture) {
  double sum = 0;
  for (std::size_t i = 0; i < picture.pixels(); ++i)
    sum += std::log(LuminanceOf(picture.data().data() + 3 * i) + 1e-4);
  const float scale = static_cast<float>(std::pow(0.13 / std::exp(sum / picture.pixels()), 0.7));
  for (float& v : picture.data()) v *= scale;
}

void ChangeSkin(image::RgbF& picture, const SkinTone& skin) {
  for (std::size_t i = 0; i < picture.pixels(); ++i) {
    float* p = picture.data().data() + 3 * i;
    const float factor = 1 + SkinLike(p) * static_cast<float>(skin.lightness - 1);
    for (int c = 0; c < 3; ++c) p[c] *= factor;
  }
}

void Finish(Photograph& photograph, image::RgbF picture) {
  const image::RgbF small = image::ShrinkTo(picture, 320);
  photograph.brightness = image::PlaneF(small.width(), small.height());
  const image::RgbF soft = image::Blur(small, 4);
  std::vector<float> sorted;
  for (std::size_t i = 0; i < soft.pixels(); ++i) {
    const float v = std::log2(LuminanceOf(soft.data().data() + 3 * i) + 1e-4f);
    photograph.brightness.data()[i] = v;
    sorted.push_back(v);
  }
  std::nth_element(sorted.begin(), sorted.begin() + sorted.size() / 2, sorted.end());
  const float median = sorted[sorted.size() / 2];
  for (float& v : photograph.brightness.data()) v -= median;

  photograph.material = SlowNoise(small.width(), small.height(), 9, HashOf(photograph.stem));
  for (float& v : photograph.material.data()) {
    const float t = std::clamp((v - 0.4f) / 0.2f, 0.0f, 1.0f);
    v = t * t * (3 - 2 * t);
  }
  photograph.palette = PaletteFor(photograph.stem);
  photograph.people = photograph.stem.starts_with("astronaut") || photograph.stem.starts_with("sample") ||
                      photograph.stem.starts_with("painted");
  photograph.levels.clear();
  photograph.levels.push_back(std::move(picture));
  while (std::min(photograph.levels.back().width(), photograph.levels.back().height()) > 150) {
    const auto& last = photograph.levels.back();
    photograph.levels.push_back(image::ResizeTo(last, static_cast<int>(last.width() * 0.7071 + 0.5),
                                                static_cast<int>(last.height() * 0.7071 + 0.5)));
  }
}

// Bilinear, positions as fractions, edges held.
float Sample(const image::PlaneF& plane, double x, double y) {
  const float px = std::clamp(static_cast<float>(x * plane.width() - 0.5), 0.0f, plane.width() - 1.001f);
  const float py = std::clamp(static_cast<float>(y * plane.height() - 0.5), 0.0f, plane.height() - 1.001f);
  const int i = static_cast<int>(px), j = static_cast<int>(py);
  const float u = px - i, v = py - j;
  return (1 - v) * ((1 - u) * *plane.at(i, j) + u * *plane.at(i + 1, j)) +
         v * ((1 - u) * *plane.at(i, j + 1) + u * *plane.at(i + 1, j + 1));
}

std::array<float, 4> CubicWeights(float t) {  // Catmull-Rom
  const float t2 = t * t, t3 = t2 * t;
  return {-0.5f * t3 + t2 - 0.5f * t, 1.5f * t3 - 2.5f * t2 + 1, -1.5f * t3 + 2 * t2 + 0.5f * t,
          0.5f * t3 - 0.5f * t2};
}

void SampleCubic(const image::RgbF& picture, double x, double y, float* out) {
  const float px = static_cast<float>(x * picture.width() - 0.5),
              py = static_cast<float>(y * picture.height() - 0.5);
  const int i = static_cast<int>(std::floor(px)), j = static_cast<int>(std::floor(py));
  const auto wx = CubicWeights(px - i), wy = CubicWeights(py - j);
  float sum[3] = {0, 0, 0};
  for (int b = 0; b < 4; ++b) {
    const float* row = picture.row(std::clamp(j - 1 + b, 0, picture.height() - 1));
    for (int a = 0; a < 4; ++a) {
      const float* p = row + 3 * std::clamp(i - 1 + a, 0, picture.width() - 1);
      const float w = wx[a] * wy[b];
      for (int c = 0; c < 3; ++c) sum[c] += w * p[c];
    }
  }
  for (int c = 0; c < 3; ++c) out[c] = std::max(sum[c], 0.0f);
}

// Where a point of the view (u, v in -0.5..0.5) lies, in fractions of the photograph.
struct Mapping {
  double cosine, sine, width, height_per_width, aspect;
  const View& view;
  Mapping(const View& v, const Photograph& photograph, double picture_aspect)
      : cosine(std::cos(v.angle_deg / 57.29577951308232)),
        sine(std::sin(v.angle_deg / 57.29577951308232)),
        width(v.width),
        height_per_width(static_cast<double>(photograph.levels[0].width()) / photograph.levels[0].height()),
        aspect(picture_aspect),
        view(v) {}
  void At(double u, double v, double& x, double& y) const {
    if (view.mirrored) u = -u;
    const double w = 1 + 2 * (view.lean_x * u + view.lean_y * v);
    const double a = u / w, b = v / aspect / w;
    x = view.x + width * (cosine * a - sine * b);
    y = view.y + width * (sine * a + cosine * b) * height_per_width;
    const double dx0 = x, dy0 = y;
    for (const Push& push : view.pushes) {
      const double dx = dx0 - push.x, dy = (dy0 - push.y) / height_per_width;
      const double fall = std::exp(-(dx * dx + dy * dy) / (2 * push.radius * push.radius));
      x -= push.dx * fall;
      y -= push.dy * fall * height_per_width;
    }
  }
};

}  // namespace

float SkinLike(const float* p) {
  const float sum = p[0] + p[1] + p[2];
  if (sum < 1e-4f) return 0;
  const float r = p[0] / sum, g = p[1] / sum;
  const float d = std::hypot((r - 0.46f) / 0.06f, (g - 0.315f) / 0.03f);
  return std::exp(-0.5f * d * d);
}

Result<Photograph> LoadPhotograph(const std::filesystem::path& path, int long_side_px, const SkinTone& skin) {
  codec::ReadOptions options;
  options.at_least_long_side_px = long_side_px;
  auto read = codec::ReadPicture(path, options);
  if (!read.ok()) return read.error();
  image::RgbF picture = image::ShrinkTo(read->pixels, long_side_px);
  const Mat3 srgb_from_rec2020 = color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020);
  for (std::size_t i = 0; i < picture.pixels(); ++i) {
    float* p = picture.data().data() + 3 * i;
    const Vec3 rgb = Mul(srgb_from_rec2020, Vec3{p[0], p[1], p[2]});
    for (int c = 0; c < 3; ++c) p[c] = static_cast<float>(std::max(0.0, rgb[c]));
  }
  ToScene(picture);
  BringLevel(picture);
  if (skin.change) ChangeSkin(picture, skin);
  Photograph photograph;
  photograph.stem = path.stem().string();
  Finish(photograph, std::move(picture));
  return photograph;
}

Photograph PaintScene(std::uint64_t seed, int long_side_px) {
  const int width = long_side_px, height = long_side_px * 3 / 4;
  Random random(seed, {0x9a1});
  image::RgbF picture(width, height);
  const auto leafy = SlowNoise(width, height, 90, seed + 1), slow = SlowNoise(width, height, 7, seed + 2);
  const double horizon = random.Uniform(0.3, 0.5);
  const float sky[3] = {0.30f, 0.45f, 0.75f}, grass[3] = {0.09f, 0.15f, 0.035f};
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) {
      float* p = picture.at(x, y);
      const float v = static_cast<float>(y) / height;
      const float texture = *leafy.at(std::min(x, leafy.width() - 1), std::min(y, leafy.height() - 1));
      const float cloud = *slow.at(std::min(x, slow.width() - 1), std::min(y, slow.height() - 1));
      const bool above = v + 0.05f * cloud < horizon;
      for (int c = 0; c < 3; ++c)
        p[c] = above ? sky[c] + cloud * (0.9f - sky[c]) * 0.8f
                     : grass[c] * (0.35f + 1.3f * texture) * (0.6f + 0.8f * cloud);
    }
  struct Shape {
    bool oval;
    double x, y, rx, ry;
    float rgb[3], weave;
  };
  std::vector<Shape> shapes;
  const float skins[4][3] = {
      {0.55f, 0.33f, 0.24f}, {0.42f, 0.24f, 0.15f}, {0.20f, 0.10f, 0.06f}, {0.62f, 0.42f, 0.33f}};
  const float cloths[6][3] = {{0.85f, 0.83f, 0.76f}, {0.02f, 0.022f, 0.03f}, {0.45f, 0.06f, 0.07f},
                              {0.10f, 0.16f, 0.40f}, {0.55f, 0.42f, 0.10f},  {0.40f, 0.20f, 0.42f}};
  shapes.push_back({false,
                    random.Uniform(0.1, 0.9),
                    horizon,
                    random.Uniform(0.1, 0.2),
                    0.22,
                    {0.33f, 0.22f, 0.14f},
                    0.2f});
  const int people = 3 + random.Below(3);
  for (int i = 0; i < people; ++i) {
    const double x = (i + 0.5) / people + random.Uniform(-0.04, 0.04), y = random.Uniform(0.42, 0.52);
    const float* cloth = cloths[i < 2 ? i : random.Below(6)];
    const float* skin = skins[random.Below(4)];
    shapes.push_back({false, x, y + 0.33, 0.07, 0.24, {cloth[0], cloth[1], cloth[2]}, 0.35f});
    shapes.push_back({true, x, y, 0.042, 0.072, {skin[0], skin[1], skin[2]}, 0.1f});
    shapes.push_back({true, x, y - 0.05, 0.043, 0.035, {0.05f, 0.03f, 0.02f}, 0.3f});
  }
  for (const Shape& s : shapes)
    for (int y = std::max(0, static_cast<int>((s.y - s.ry) * height));
         y < std::min(height, static_cast<int>((s.y + s.ry) * height)); ++y)
      for (int x = std::max(0, static_cast<int>((s.x - s.rx) * width));
           x < std::min(width, static_cast<int>((s.x + s.rx) * width)); ++x) {
        const double u = (static_cast<double>(x) / width - s.x) / s.rx,
                     v = (static_cast<double>(y) / height - s.y) / s.ry;
        if (s.oval && u * u + v * v > 1) continue;
        const float round = static_cast<float>(
            s.oval ? 0.55 + 0.45 * std::sqrt(std::max(0.0, 1 - u * u - v * v)) : 0.75 - 0.25 * u);
        const float weave =
            1 - s.weave * *leafy.at(std::min(x, leafy.width() - 1), std::min(y, leafy.height() - 1));
        for (int c = 0; c < 3; ++c) picture.at(x, y)[c] = s.rgb[c] * round * weave;
      }
  picture = image::Blur(picture, std::max(0.5, long_side_px / 2000.0));
  BringLevel(picture);
  Photograph photograph;
  photograph.stem = "painted-" + std::to_string(seed);
  Finish(photograph, std::move(picture));
  return photograph;
}

View Inside(View view, const Photograph& photograph, double aspect) {
  for (int attempt = 0; attempt < 80; ++attempt) {
    const Mapping map(view, photograph, aspect);
    double least_x = 1e9, most_x = -1e9, least_y = 1e9, most_y = -1e9;
    for (int k = 0; k < 4; ++k) {
      double x, y;
      map.At(k % 2 ? 0.5 : -0.5, k / 2 ? 0.5 : -0.5, x, y);
      least_x = std::min(least_x, x);
      most_x = std::max(most_x, x);
      least_y = std::min(least_y, y);
      most_y = std::max(most_y, y);
    }
    if (least_x >= 0 && most_x <= 1 && least_y >= 0 && most_y <= 1) return view;
    if (most_x - least_x > 0.995 || most_y - least_y > 0.995) {
      view.width *= 0.97;
      continue;
    }
    view.x += std::max(0.0, -least_x) - std::max(0.0, most_x - 1);
    view.y += std::max(0.0, -least_y) - std::max(0.0, most_y - 1);
  }
  return view;
}

SceneView Look(const Photograph& photograph, const View& view, const Lighting& light, int width_px,
               int height_px) {
  SceneView out{image::RgbF(width_px, height_px), image::PlaneF(width_px, height_px),
                image::PlaneF(width_px, height_px)};
  const Mapping map(view, photograph, static_cast<double>(width_px) / height_px);
  const double ratio = view.width * photograph.levels[0].width() / width_px;
  const int wanted = static_cast<int>(std::ceil(2 * std::log2(std::max(ratio, 1e-6) / 1.15)));
  const auto& level =
      photograph.levels[std::clamp(wanted, 0, static_cast<int>(photograph.levels.size()) - 1)];
  for (int y = 0; y < height_px; ++y)
    for (int x = 0; x < width_px; ++x) {
      double bx, by;
      map.At((x + 0.5) / width_px - 0.5, (y + 0.5) / height_px - 0.5, bx, by);
      SampleCubic(level, bx, by, out.colour.at(x, y));
      *out.material.at(x, y) = Sample(photograph.material, bx, by);
      const double along = light.sideways ? 2.4 * (bx - 0.5) : 0.45 * Sample(photograph.brightness, bx, by);
      *out.key.at(x, y) = static_cast<float>(std::clamp(light.key_share + light.contrast * along, 0.0, 1.0));
    }
  return out;
}

}  // namespace samelight::simulate
