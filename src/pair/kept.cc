#include "pair/kept.h"

#include <cstring>
#include <span>

#include "base/bytes.h"
#include "base/file.h"
#include "base/hash.h"
#include "measure/cache.h"

namespace samelight::pair {
namespace {

// File: magic, version, version of the measurements, hash of the rest, then the three maps.
constexpr char kMagic[8] = {'S', 'A', 'M', 'E', 'L', 'K', 'P', '\n'};
// Raised when two pictures would be compared differently.
constexpr std::uint32_t kVersion = 2;  // 2: scans may be black where places are matched
constexpr std::size_t kHashLength = 32, kHeader = sizeof kMagic + 8 + kHashLength;
constexpr std::uint64_t kMostBytes = 2048ull << 20;

std::string HashOf(std::span<const std::uint8_t> bytes) {
  ContentHash hash;
  hash.Add(bytes.data(), bytes.size());
  return hash.Hex();
}

void Put(ByteWriter& w, double v) { w.Put(v); }
void Put(ByteWriter& w, const Verified& v) {
  w.Put(v.mirrored);
  w.Put(v.matches);
  w.Array(v.inliers);
  w.Put(v.b_from_a);
  w.Put(v.distinct);
  for (double d : {v.evidence, v.inlier_ratio, v.overlap}) w.Put(d);
}
void Put(ByteWriter& w, const record::Correspondence& c) {
  w.Put(c.inliers);
  w.Put(c.mirrored);
  for (float f : c.b_from_a) w.Put(f);
  w.Array(c.cells);
}

void Get(ByteReader& r, double& v) { v = r.Get<double>(); }
void Get(ByteReader& r, Verified& v) {
  v.mirrored = r.Flag();
  v.matches = r.Get<int>();
  v.inliers = r.Array<Inlier>();
  v.b_from_a = r.Get<Homography>();
  v.distinct = r.Get<int>();
  for (double* d : {&v.evidence, &v.inlier_ratio, &v.overlap}) *d = r.Get<double>();
}
void Get(ByteReader& r, record::Correspondence& c) {
  c.inliers = r.Get<int>();
  c.mirrored = r.Flag();
  for (float& f : c.b_from_a) f = r.Get<float>();
  c.cells = r.Array<record::Cell>();
}

template <class Map>
void PutUsed(ByteWriter& w, const Map& map) {
  std::uint64_t used = 0;
  for (const auto& [key, entry] : map) used += entry.used;
  w.Put(used);
  for (const auto& [key, entry] : map)
    if (entry.used) {
      w.Put(key);
      Put(w, entry.value);
    }
}

template <class Map>
void GetAll(ByteReader& r, Map& map) {
  for (std::size_t n = r.Count(8); n > 0 && r.ok(); --n) {
    std::string key = r.Text();
    typename Map::mapped_type entry;
    Get(r, entry.value);
    if (r.ok()) map.emplace(std::move(key), std::move(entry));
  }
}

}  // namespace

template <class T>
T Kept::Get(Map<T>& map, Kind kind, const std::string& a, const std::string& b, const std::string& detail,
            const std::function<T()>& make) {
  const bool known = keeps_ && !a.empty() && !b.empty();
  const std::string key = known ? a + " " + b + detail : "";
  if (known) {
    const std::lock_guard lock(mutex_);
    if (const auto it = map.find(key); it != map.end()) {
      it->second.used = true;
      return it->second.value;
    }
  }
  T value = make();
  ++made_[kind];
  if constexpr (std::is_same_v<T, record::Correspondence>)
    if (value.cells.empty()) return value;  // perhaps a picture could not be read
  if (known) {
    const std::lock_guard lock(mutex_);
    map[key] = {value, true};
  }
  return value;
}

double Kept::Likeness(const std::string& a, const std::string& b, const std::function<double()>& make) {
  return Get(likeness_, kLikeness, a, b, "", make);
}

Verified Kept::Verification(Kind kind, const std::string& a, const std::string& b,
                            const std::function<Verified()>& make) {
  return Get(verified_, kind, a, b, kind == kFrames ? " frames" : "", make);
}

record::Correspondence Kept::Cells(const std::string& a, const std::string& b, int most,
                                   const std::function<record::Correspondence()>& make) {
  return Get(cells_, kCells, a, b, " " + std::to_string(most), make);
}

Status Kept::Read(const std::filesystem::path& file) {
  Result<std::vector<std::uint8_t>> read = ReadFile(file, kMostBytes);
  if (!read.ok()) return read.error();
  const std::vector<std::uint8_t>& bytes = *read;
  const Error damaged{ErrorCode::kDamaged, "what was kept of an earlier pairing cannot be read",
                      file.string(), "it is made again"};
  if (bytes.size() < kHeader || std::memcmp(bytes.data(), kMagic, sizeof kMagic) != 0) return damaged;
  std::uint32_t version[2];
  std::memcpy(version, bytes.data() + sizeof kMagic, sizeof version);
  if (version[0] != kVersion || version[1] != measure::CacheVersion())
    return Error{ErrorCode::kUnsupported, "what was kept is of another version of the program", file.string(),
                 "it is made again"};
  const std::span<const std::uint8_t> rest = std::span(bytes).subspan(kHeader);
  if (std::string(bytes.begin() + kHeader - kHashLength, bytes.begin() + kHeader) != HashOf(rest))
    return damaged;
  ByteReader r(rest);
  const std::lock_guard lock(mutex_);
  GetAll(r, likeness_);
  GetAll(r, verified_);
  GetAll(r, cells_);
  if (r.done()) return {};
  likeness_.clear();
  verified_.clear();
  cells_.clear();
  return damaged;
}

Status Kept::Write(const std::filesystem::path& file) const {
  ByteWriter rest;
  {
    const std::lock_guard lock(mutex_);
    PutUsed(rest, likeness_);
    PutUsed(rest, verified_);
    PutUsed(rest, cells_);
  }
  ByteWriter all;
  all.Bytes(kMagic, sizeof kMagic);
  all.Put(kVersion);
  all.Put(measure::CacheVersion());
  const std::string hash = HashOf(rest.bytes_);
  all.Bytes(hash.data(), hash.size());
  all.Bytes(rest.bytes_.data(), rest.bytes_.size());
  return WriteFileWhole(file, all.bytes_);
}

}  // namespace samelight::pair
