#include "bench/pictures.h"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <mutex>
#include <optional>

#include "base/file.h"
#include "base/hash.h"
#include "base/task_pool.h"
#include "codec/read.h"
#include "image/resize.h"

namespace samelight::bench {
namespace {

// Header of a cached picture; floats of the pixels follow.
struct Head {
  char kind[8] = {'s', 'l', 'b', 'e', 'n', 'c', 'h', '1'};
  std::uint64_t bytes = 0;
  std::int64_t modified = 0;
  std::int32_t width = 0, height = 0, scene_referred = 0, body_size = 0;
  double as_shot[3] = {1, 1, 1};
  double matrix[9] = {1, 0, 0, 0, 1, 0, 0, 0, 1};
  char source[128] = {};
};

struct Reduced {
  Head head;
  image::RgbF pixels;
};

fs::path CacheFile(const fs::path& cache, const fs::path& file) {
  ContentHash hash;
  const std::string name = fs::weakly_canonical(file).string();
  hash.Add(name.data(), name.size());
  return cache / (hash.Hex() + ".reduced");
}

std::optional<Reduced> FromCache(const fs::path& file, const Head& stamp) {
  Result<std::vector<std::uint8_t>> bytes = ReadFile(file, 64 << 20);
  if (!bytes.ok() || bytes->size() < sizeof(Head)) return {};
  Reduced reduced;
  std::memcpy(&reduced.head, bytes->data(), sizeof(Head));
  const Head& h = reduced.head;
  if (std::memcmp(h.kind, stamp.kind, sizeof h.kind) != 0 || h.bytes != stamp.bytes ||
      h.modified != stamp.modified || h.width < 1 || h.height < 1 || h.width > 4096 || h.height > 4096)
    return {};
  reduced.pixels.Resize(h.width, h.height);
  const std::size_t size = reduced.pixels.data().size() * sizeof(float);
  if (bytes->size() != sizeof(Head) + size) return {};
  std::memcpy(reduced.pixels.data().data(), bytes->data() + sizeof(Head), size);
  return reduced;
}

// Reads `file` so that its long side is kLongSide, or to the size of `like` when that is given.
Result<Reduced> Reduce(const fs::path& file, const image::RgbF* like, const fs::path& cache, bool trust) {
  Reduced reduced;
  std::error_code failed;
  reduced.head.bytes = fs::file_size(file, failed);
  if (!failed)
    reduced.head.modified =
        static_cast<std::int64_t>(fs::last_write_time(file, failed).time_since_epoch().count());
  const fs::path kept = cache.empty() ? fs::path() : CacheFile(cache, file);
  if (trust && !cache.empty())
    if (auto found = FromCache(kept, reduced.head);
        found && (!like || (found->head.width == like->width() && found->head.height == like->height())))
      return std::move(*found);
  Result<codec::Picture> picture = codec::ReadPicture(file);
  if (!picture.ok()) return picture.error();
  const int w = picture->pixels.width(), h = picture->pixels.height();
  const double scale = std::min(1.0, static_cast<double>(kLongSide) / std::max(w, h));
  reduced.pixels = like ? image::ResizeTo(picture->pixels, like->width(), like->height())
                        : image::ResizeTo(picture->pixels, static_cast<int>(std::lround(w * scale)),
                                          static_cast<int>(std::lround(h * scale)));
  Head& head = reduced.head;
  head.width = reduced.pixels.width();
  head.height = reduced.pixels.height();
  head.scene_referred = picture->scene_referred ? 1 : 0;
  const record::RawColour& raw = picture->photo.raw;
  for (int r = 0; r < 3; ++r) {
    head.as_shot[r] = raw.as_shot[r];
    for (int c = 0; c < 3; ++c) head.matrix[3 * r + c] = raw.rec2020_from_camera[r][c];
  }
  std::strncpy(head.source, record::SourceName(picture->photo).c_str(), sizeof head.source - 1);
  if (!cache.empty()) {
    std::vector<std::uint8_t> bytes(sizeof(Head) + reduced.pixels.data().size() * sizeof(float));
    std::memcpy(bytes.data(), &head, sizeof(Head));
    std::memcpy(bytes.data() + sizeof(Head), reduced.pixels.data().data(), bytes.size() - sizeof(Head));
    if (Status status = WriteFileWhole(kept, bytes); !status.ok()) return status.error();
  }
  return reduced;
}

bool IsGrey(const LabF& lab) {
  double chroma = 0;
  for (std::size_t i = 0; i < lab.pixels(); ++i)
    chroma += std::hypot(lab.data()[3 * i + 1], lab.data()[3 * i + 2]);
  return chroma < 1.5 * lab.pixels();
}

}  // namespace

Result<image::RgbF> ReadReduced(const fs::path& file, int width, int height) {
  Result<codec::Picture> picture = codec::ReadPicture(file);
  if (!picture.ok()) return picture.error();
  return image::ResizeTo(picture->pixels, width, height);
}

Result<Pictures> LoadPictures(const Truth& truth, const fs::path& cache, bool trust_cache) {
  if (!cache.empty()) {
    std::error_code failed;
    fs::create_directories(cache, failed);
    if (failed) return ErrorFromErrno(failed.value(), "create", cache);
  }
  Pictures out;
  out.frames.resize(truth.frames.size());
  out.scans.resize(truth.scans.size());
  std::mutex mutex;
  std::optional<Error> problem;
  const auto fail = [&](const Error& error) {
    const std::lock_guard lock(mutex);
    if (!problem) problem = error;
  };
  ParallelFor(out.frames.size() + out.scans.size(), {}, [&](std::size_t k) {
    const bool is_frame = k < out.frames.size();
    const std::size_t index = is_frame ? k : k - out.frames.size();
    const fs::path& truth_file = is_frame ? truth.frames[index].truth : truth.scans[index].truth;
    const std::string& file = is_frame ? truth.frames[index].file : truth.scans[index].file;
    Result<Reduced> wanted = Reduce(truth_file, nullptr, cache, trust_cache);
    if (!wanted.ok()) return fail(wanted.error());
    Result<Reduced> made = Reduce(truth.folder / file, &wanted->pixels, cache, trust_cache);
    if (!made.ok()) return fail(made.error());
    if (!is_frame) {
      ScanPicture& scan = out.scans[index];
      scan.truth = LabOfLinear(wanted->pixels);
      scan.grey = IsGrey(scan.truth);
      scan.linear = std::move(made->pixels);
      return;
    }
    FramePicture& frame = out.frames[index];
    frame.truth = LabOfLinear(wanted->pixels);
    frame.linear = std::move(made->pixels);
    frame.scene_referred = made->head.scene_referred != 0;
    frame.source = made->head.source;
    for (int r = 0; r < 3; ++r) {
      frame.as_shot[r] = made->head.as_shot[r];
      for (int c = 0; c < 3; ++c) frame.rec2020_from_camera[r][c] = made->head.matrix[3 * r + c];
    }
    if (truth.frames[index].skin.empty()) return;
    Result<Reduced> skin = Reduce(truth.frames[index].skin, &frame.linear, cache, trust_cache);
    if (!skin.ok()) return fail(skin.error());
    frame.skin.Resize(skin->pixels.width(), skin->pixels.height());
    for (std::size_t i = 0; i < frame.skin.pixels(); ++i)
      frame.skin.data()[i] = skin->pixels.data()[3 * i] > 0.99f ? 1 : 0;  // wholly skin
  });
  if (problem) return *problem;
  return out;
}

}  // namespace samelight::bench
