#include "image/shrink.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace samelight::image {
namespace {

// The share of every input place in the outputs that it lies in, along one axis: in `first` and in the next.
struct Share {
  int first;
  float here, next;
};
std::vector<Share> Shares(int in, int out) {
  const double scale = static_cast<double>(out) / in;  // at most 1: a place lies in two outputs at most
  std::vector<Share> shares;
  for (int i = 0; i < in; ++i) {
    const double from = i * scale, to = std::min<double>(out, (i + 1) * scale);
    const int first = std::min(out - 1, static_cast<int>(from));
    const double here = std::min<double>(first + 1, to) - from;
    shares.push_back({first, static_cast<float>(here), static_cast<float>(std::max(0.0, to - from - here))});
  }
  return shares;
}

void Add(const float* values, std::size_t count, float share, float* sum) {
  for (std::size_t i = 0; i < count; ++i) sum[i] += share * values[i];
}

}  // namespace

Reduced SizeWithin(int width, int height, int long_side_px) {
  const int longest = std::max(width, height);
  if (longest <= long_side_px) return {width, height};
  const double scale = static_cast<double>(long_side_px) / longest;
  return {std::max(1, static_cast<int>(std::lround(width * scale))),
          std::max(1, static_cast<int>(std::lround(height * scale)))};
}

RgbF ShrinkTo(const Source& in, int long_side_px, const Cancel& cancel) {
  const auto [width, height] = SizeWithin(in.width(), in.height(), long_side_px);
  RgbF out;
  if (width == in.width() && height == in.height()) {
    MakeLinear(in, out, cancel);
    return out;
  }
  out.Resize(width, height);
  std::fill(out.data().begin(), out.data().end(), 0.0f);
  const std::vector<Share> columns = Shares(in.width(), width), rows = Shares(in.height(), height);
  // One more pixel: the share that the last column would give to one behind it is nothing.
  std::vector<float> room(3 * static_cast<std::size_t>(in.width())),
      narrow(3 * (static_cast<std::size_t>(width) + 1));
  for (int y = 0; y < in.height() && !cancel.requested(); ++y) {
    const float* p = in.Row(0, y, in.width(), room.data());
    std::fill(narrow.begin(), narrow.end(), 0.0f);
    for (const Share& share : columns) {
      float* to = narrow.data() + 3 * static_cast<std::size_t>(share.first);
      for (std::size_t c = 0; c < 3; ++c, ++p) {
        to[c] += share.here * *p;
        to[c + 3] += share.next * *p;
      }
    }
    const Share& share = rows[static_cast<std::size_t>(y)];
    const auto values = 3 * static_cast<std::size_t>(width);
    Add(narrow.data(), values, share.here, out.row(share.first));
    if (share.next > 0 && share.first + 1 < height)
      Add(narrow.data(), values, share.next, out.row(share.first + 1));
  }
  return out;
}

}  // namespace samelight::image
