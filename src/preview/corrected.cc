#include "preview/corrected.h"

#include <algorithm>

#include "base/task_pool.h"
#include "look/evaluate.h"
#include "render/lookup.h"
#include "render/tolerance.h"

namespace samelight::preview {
namespace {

constexpr int kDraftNodes = 17;
constexpr int kMergedNodes = 25;  // where skin goes its own way: its edge has to lie within one table
constexpr int kRowsAtOnce = 16;

// Linear sRGB of encoded pixels, for the marks; those that are at an end stay there.
void SrgbLinear(color::Space space, const float* encoded, float out[3]) {
  for (int c = 0; c < 3; ++c) out[c] = static_cast<float>(color::Decode(space, encoded[c]));
  if (space == color::Space::kSrgb) return;
  static const Mat3 matrix = color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020);
  const Vec3 s = Mul(matrix, Vec3{out[0], out[1], out[2]});
  for (int c = 0; c < 3; ++c) out[c] = static_cast<float>(s[c]);
}

}  // namespace

void Corrected::Bake(const record::Correction& correction, const Monitor& monitor, bool draft, bool fuse) {
  // A finer table than asked for serves as well.
  if (of_ && *of_ == correction && space_ == monitor.space && fused_ == fuse && (draft || !draft_)) return;
  const look::Resolved resolved = look::Resolve(correction);
  if (draft) {
    render::Bake(resolved, monitor.space, resolved.skin_differs ? kMergedNodes : kDraftNodes, baked_, true);
    render::Merge(baked_);
  } else {
    render::BakeWithin(resolved, monitor.space, baked_);
  }
  // Where colours are mixed after the look-up, the monitor's table has to come after that.
  if (fuse && !baked_.blended) {
    const int n = baked_.film.nodes;
    float* entry = baked_.film.entries();
    for (int i = 0; i < n * n * n; ++i, entry += 4) ThroughMonitor(monitor, entry);
  }
  of_ = correction;
  space_ = monitor.space;
  draft_ = draft;
  fused_ = fuse;
}

void Corrected::Show(const Sampled& sampled, const record::Correction& correction, const Monitor& monitor,
                     bool draft, bool marks, Shown& out) {
  const bool skin_apart = correction.follow_skin != correction.follow;
  // Marks are read off colours, not off the monitor's values.
  const bool fuse = monitor.nodes > 0 && !marks && (draft || !skin_apart);
  Bake(correction, monitor, draft, fuse);
  const Monitor plain;
  const Monitor& after = fuse ? plain : monitor;
  Prepare(sampled, marks, out);
  const int width = out.width, height = out.height;
  const std::size_t blocks = (static_cast<std::size_t>(height) + kRowsAtOnce - 1) / kRowsAtOnce;
  ParallelFor(blocks, {}, [&](std::size_t block) {
    std::vector<float> rgbx(4 * static_cast<std::size_t>(width));
    const int y0 = static_cast<int>(block) * kRowsAtOnce, y1 = std::min(height, y0 + kRowsAtOnce);
    for (int y = y0; y < y1; ++y) {
      const std::size_t row = static_cast<std::size_t>(y) * width;
      render::Lookup(baked_, sampled.linear.row(y), static_cast<std::size_t>(width), rgbx.data());
      if (marks)
        for (int x = 0; x < width; ++x) {
          float srgb[3];
          SrgbLinear(monitor.space, rgbx.data() + 4 * static_cast<std::size_t>(x), srgb);
          out.marks[row + x] = MarksOf(srgb, true);
          MarkProof(monitor, rgbx.data() + 4 * static_cast<std::size_t>(x), out.marks[row + x]);
        }
      ToScreen(after, rgbx.data(), static_cast<std::size_t>(width), 0, y, out.argb.data() + row);
    }
  });
  ClearOutside(sampled, out);
}

}  // namespace samelight::preview
