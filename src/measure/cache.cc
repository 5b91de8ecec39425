#include "measure/cache.h"

#include <cstring>
#include <fstream>
#include <opencv2/core.hpp>

#include "base/bytes.h"
#include "base/file.h"
#include "base/hash.h"

namespace samelight::measure {
namespace {

// File: magic, version, length of the facts, length of the pixels, hash of the facts, hash of the pixels,
// facts, pixels.
constexpr char kMagic[8] = {'S', 'A', 'M', 'E', 'L', 'C', 'H', '\n'};
// Raised when a picture would be measured or described differently: what an older version made is made again.
constexpr std::uint32_t kVersion = 4;  // 4: the camera's matrix is that of the light
constexpr std::size_t kHashLength = 32;
constexpr std::size_t kHeader = sizeof kMagic + 4 + 8 + 8 + 2 * kHashLength;
constexpr std::uint64_t kMostBytes = 256ull << 20;
constexpr int kMostSide = 1 << 14;

void PutFacts(ByteWriter& w, const Cached& cached) {
  const record::Measured& m = cached.measured;
  w.Put(static_cast<std::uint64_t>(m.faces.size()));
  for (const record::Face& f : m.faces)
    for (const double v : {f.left, f.top, f.right, f.bottom, f.score}) w.Put(v);
  w.Put(static_cast<std::uint64_t>(m.regions.size()));
  for (const record::RegionStat& s : m.regions) {
    w.Put(static_cast<std::uint8_t>(s.kind));
    w.Put(static_cast<std::int32_t>(s.face));
    w.Put(s.area);
    for (const Vec3& q : s.quantiles) w.Put(q);
    w.Put(s.mean);
  }
  w.Put(m.light.neutral);
  for (const double v :
       {m.light.mired, m.light.duv, m.light.log2_level, m.light.confidence, m.sharpness, m.clipped_high,
        m.clipped_low, m.inner_left, m.inner_top, m.inner_right, m.inner_bottom, m.grain})
    w.Put(v);
  w.Put(static_cast<std::uint8_t>(m.black_and_white));
  w.Put(m.note);
  const Features& f = cached.features;
  w.Put(static_cast<std::uint64_t>(f.points.size()));
  for (const Keypoint& k : f.points)
    for (const float v : {k.x, k.y, k.size, k.angle_deg}) w.Put(v);
  w.Array(f.local);
  w.Array(f.global);
}

bool GetFacts(ByteReader& r, Cached& cached) {
  record::Measured& m = cached.measured;
  m.faces.resize(r.Count(5 * sizeof(double)));
  for (record::Face& f : m.faces)
    for (double* v : {&f.left, &f.top, &f.right, &f.bottom, &f.score}) *v = r.Get<double>();
  m.regions.resize(r.Count(5 + 19 * sizeof(double)));
  for (record::RegionStat& s : m.regions) {
    s.kind = static_cast<record::RegionKind>(r.Get<std::uint8_t>());
    s.face = r.Get<std::int32_t>();
    s.area = r.Get<double>();
    for (Vec3& q : s.quantiles) q = r.Get<Vec3>();
    s.mean = r.Get<Vec3>();
  }
  m.light.neutral = r.Get<Vec3>();
  for (double* v :
       {&m.light.mired, &m.light.duv, &m.light.log2_level, &m.light.confidence, &m.sharpness, &m.clipped_high,
        &m.clipped_low, &m.inner_left, &m.inner_top, &m.inner_right, &m.inner_bottom, &m.grain})
    *v = r.Get<double>();
  m.black_and_white = r.Flag();
  m.note = r.Text();
  Features& f = cached.features;
  f.points.resize(r.Count(4 * sizeof(float)));
  for (Keypoint& k : f.points)
    for (float* v : {&k.x, &k.y, &k.size, &k.angle_deg}) *v = r.Get<float>();
  f.local = r.Array<std::uint8_t>();
  f.global = r.Array<float>();
  return r.done() && f.local.size() == f.points.size() * kLocalSize;
}

// Label planes are runs of few values: length (16 bit) and value.
void PutPlane(ByteWriter& w, const image::PlaneU8& plane) {
  ByteWriter runs;
  const std::vector<std::uint8_t>& v = plane.data();
  for (std::size_t i = 0; i < v.size();) {
    std::size_t end = i + 1;
    while (end < v.size() && v[end] == v[i] && end - i < 0xffff) ++end;
    runs.Put(static_cast<std::uint16_t>(end - i));
    runs.Put(v[i]);
    i = end;
  }
  w.Array(runs.bytes_);
}

bool GetPlane(ByteReader& r, int width, int height, image::PlaneU8& plane) {
  plane.Resize(width, height);
  const std::vector<std::uint8_t> bytes = r.Array<std::uint8_t>();
  ByteReader runs(bytes);
  std::size_t at = 0;
  while (at < plane.pixels()) {
    const auto length = runs.Get<std::uint16_t>();
    const auto value = runs.Get<std::uint8_t>();
    if (!runs.ok() || length == 0 || length > plane.pixels() - at) return false;
    std::memset(plane.data().data() + at, value, length);
    at += length;
  }
  return runs.done();
}

void PutPixels(ByteWriter& w, const Analysis& a) {
  w.Put(static_cast<std::int32_t>(a.pixels.width()));
  w.Put(static_cast<std::int32_t>(a.pixels.height()));
  if (a.pixels.empty()) return;
  const cv::Mat full(a.pixels.height(), a.pixels.width(), CV_32FC3,
                     const_cast<float*>(a.pixels.data().data()));
  cv::Mat half;
  full.convertTo(half, CV_16F);
  w.Bytes(half.data, half.total() * half.elemSize());
  PutPlane(w, a.labels);
  PutPlane(w, a.faces);
}

bool GetPixels(ByteReader& r, Analysis& a) {
  const int width = r.Get<std::int32_t>(), height = r.Get<std::int32_t>();
  if (width == 0 && height == 0) return r.done();
  if (width <= 0 || height <= 0 || width > kMostSide || height > kMostSide) return false;
  const std::size_t size = static_cast<std::size_t>(width) * height * 3 * 2;
  if (!r.Take(size)) return false;
  // Copied first: the bytes in the file need not be aligned.
  cv::Mat half(height, width, CV_16FC3);
  std::memcpy(half.data, r.before(size), size);
  a.pixels.Resize(width, height);
  cv::Mat full(height, width, CV_32FC3, a.pixels.data().data());
  half.convertTo(full, CV_32F);
  return GetPlane(r, width, height, a.labels) && GetPlane(r, width, height, a.faces) && r.done();
}

std::string HashOf(std::span<const std::uint8_t> bytes) {
  ContentHash hash;
  hash.Add(bytes.data(), bytes.size());
  return hash.Hex();
}

struct Header {
  std::uint64_t facts = 0, pixels = 0;
  std::string facts_hash, pixels_hash;
};

Error Damaged(const std::filesystem::path& file, const std::string& why) {
  return Error{ErrorCode::kDamaged, "the cached measurement " + why, file.string(), "it will be made again"};
}

Result<Header> GetHeader(std::span<const std::uint8_t> bytes, const std::filesystem::path& file) {
  if (bytes.size() < kHeader) return Damaged(file, "ends early");
  if (std::memcmp(bytes.data(), kMagic, sizeof kMagic) != 0) return Damaged(file, "is another kind of file");
  ByteReader r(bytes.subspan(sizeof kMagic, kHeader - sizeof kMagic));
  if (r.Get<std::uint32_t>() != kVersion)
    return Error{ErrorCode::kNotFound, "the cached measurement is of another version", file.string(), ""};
  Header h;
  h.facts = r.Get<std::uint64_t>();
  h.pixels = r.Get<std::uint64_t>();
  if (h.facts > kMostBytes || h.pixels > kMostBytes) return Damaged(file, "names an impossible size");
  for (std::string* hash : {&h.facts_hash, &h.pixels_hash}) {
    r.Take(kHashLength);
    hash->assign(reinterpret_cast<const char*>(r.before(kHashLength)), kHashLength);
  }
  return h;
}

Status Check(const Cached& cached, const std::filesystem::path& file) {
  const Analysis& a = cached.analysis;
  for (const image::PlaneU8* plane : {&a.labels, &a.faces})
    if (plane->width() != a.pixels.width() || plane->height() != a.pixels.height())
      return Error{ErrorCode::kInvalidArgument, "labels and pixels differ in size", file.string(), ""};
  if (cached.features.local.size() != cached.features.points.size() * kLocalSize)
    return Error{ErrorCode::kInvalidArgument, "descriptors and keypoints differ in number", file.string(),
                 ""};
  return {};
}

}  // namespace

Status WriteCached(const std::filesystem::path& file, const Cached& cached) {
  if (Status s = Check(cached, file); !s) return s;
  ByteWriter facts, pixels, out;
  PutFacts(facts, cached);
  PutPixels(pixels, cached.analysis);
  out.bytes_.reserve(kHeader + facts.bytes_.size() + pixels.bytes_.size());
  out.Bytes(kMagic, sizeof kMagic);
  out.Put(kVersion);
  out.Put(static_cast<std::uint64_t>(facts.bytes_.size()));
  out.Put(static_cast<std::uint64_t>(pixels.bytes_.size()));
  for (const auto* part : {&facts.bytes_, &pixels.bytes_}) out.Bytes(HashOf(*part).data(), kHashLength);
  out.Bytes(facts.bytes_.data(), facts.bytes_.size());
  out.Bytes(pixels.bytes_.data(), pixels.bytes_.size());
  return WriteFileWhole(file, out.bytes_);
}

Result<Cached> ReadCached(const std::filesystem::path& file) {
  Result<std::vector<std::uint8_t>> read = ReadFile(file, kMostBytes);
  if (!read) return read.error();
  const std::span<const std::uint8_t> bytes(*read);
  Result<Header> header = GetHeader(bytes, file);
  if (!header) return header.error();
  if (bytes.size() != kHeader + header->facts + header->pixels) return Damaged(file, "has the wrong length");
  const auto facts = bytes.subspan(kHeader, header->facts), pixels = bytes.subspan(kHeader + header->facts);
  if (HashOf(facts) != header->facts_hash || HashOf(pixels) != header->pixels_hash)
    return Damaged(file, "does not match its checksum");
  Cached cached;
  ByteReader f(facts), p(pixels);
  if (!GetFacts(f, cached) || !GetPixels(p, cached.analysis))
    return Damaged(file, "is not laid out as it should be");
  return cached;
}

Result<Cached> ReadCachedFacts(const std::filesystem::path& file) {
  std::error_code error;
  if (!std::filesystem::is_regular_file(file, error))
    return Error{ErrorCode::kNotFound, "no cached measurement", file.string(), ""};
  std::ifstream in(file, std::ios::binary);
  if (!in) return Error{ErrorCode::kPermission, "cannot open the cached measurement", file.string(), ""};
  std::vector<std::uint8_t> bytes(kHeader);
  const auto fill = [&] {
    in.read(reinterpret_cast<char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
    bytes.resize(static_cast<std::size_t>(in.gcount()));
  };
  fill();
  Result<Header> header = GetHeader(bytes, file);
  if (!header) return header.error();
  // A damaged length must not ask for memory that the file cannot fill.
  const std::uintmax_t size = std::filesystem::file_size(file, error);
  if (error || size != kHeader + header->facts + header->pixels) return Damaged(file, "has the wrong length");
  bytes.resize(header->facts);
  fill();
  if (bytes.size() != header->facts || HashOf(bytes) != header->facts_hash)
    return Damaged(file, "does not match its checksum");
  Cached cached;
  ByteReader r(bytes);
  if (!GetFacts(r, cached)) return Damaged(file, "is not laid out as it should be");
  return cached;
}

std::uint32_t CacheVersion() { return kVersion; }

}  // namespace samelight::measure
