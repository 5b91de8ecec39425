// What the benchmarks of whole deliveries share: clocks, a session to deliver.
#pragma once

#include <cstdio>

#include <sys/resource.h>
#include <unistd.h>

#include <cmath>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "base/file.h"
#include "base/hash.h"
#include "base/task_pool.h"
#include "codec/peers_testing.h"
#include "codec/read.h"
#include "codec/write.h"
#include "job/stages.h"
#include "render/render.h"

namespace samelight::job::bench {

using codec::peers::kHeight;
using codec::peers::kWidth;

inline double Wall() {
  timespec t{};
  clock_gettime(CLOCK_MONOTONIC, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}
// Of all threads: what a busy machine does not spoil.
inline double Processor() {
  timespec t{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}
struct Cost {
  double wall_s, cpu_s;
};
template <class F>
Cost Timed(F&& f) {
  const double wall = Wall(), cpu = Processor();
  f();
  return {Wall() - wall, Processor() - cpu};
}

// A folder with a session of `frames` pictures digital/P100.ENDING and so on, of `kinds` of file contents in
// turn. Goes away with the object.
class Delivery {
 public:
  Delivery(int frames, const std::string& ending, const std::vector<std::vector<std::uint8_t>>& kinds,
           const record::Correction& correction, record::Encoding encoding);
  ~Delivery() {
    std::error_code ignored;
    fs::remove_all(folder_, ignored);
  }
  Delivery(const Delivery&) = delete;
  Delivery& operator=(const Delivery&) = delete;

  bool sound() const { return sound_; }
  fs::path folder() const { return folder_; }
  // Delivers everything anew; how many files were written.
  int Run() const;
  // Mean difference, in steps of 8 bit, of the first delivered file from `pixels`; 1000 when it is not there.
  double Off(const image::RgbU8& pixels) const;

 private:
  fs::path folder_;
  bool sound_ = true;
};

inline Delivery::Delivery(int frames, const std::string& ending,
                          const std::vector<std::vector<std::uint8_t>>& kinds,
                          const record::Correction& correction, record::Encoding encoding) {
  std::string pattern = (fs::temp_directory_path() / "samelight-bench-XXXXXX").string();
  folder_ = fs::canonical(::mkdtemp(pattern.data()));
  auto session = session::Session::Open(folder_ / "a.samelight", session::Access::kCreate);
  auto change = (*session)->Begin();
  fs::create_directories(folder_ / "digital");
  session::MatchResult match;
  for (int i = 0; i < frames; ++i) {
    const std::vector<std::uint8_t>& bytes = kinds[static_cast<std::size_t>(i) % kinds.size()];
    record::Photo photo;
    photo.encoding = encoding;
    photo.path = "digital/P" + std::to_string(100 + i) + ending;
    sound_ = sound_ && WriteFileWhole(folder_ / photo.path, bytes).ok();
    ContentHash hash;
    hash.Add(bytes.data(), bytes.size());
    photo.hash = hash.Hex();
    photo.width_px = kWidth;
    photo.height_px = kHeight;
    photo.bytes = bytes.size();
    sound_ = sound_ && change->Put(photo).ok();
    record::FrameSolution solution;
    solution.correction = correction;
    solution.frame = solution.correction.frame = photo.id;
    match.frames.push_back(solution);
  }
  sound_ = sound_ && change->ReplaceMatch(match).ok() && change->Commit().ok();
}

inline int Delivery::Run() const {
  fs::remove_all(folder_ / "out");
  auto session = session::Session::Open(folder_ / "a.samelight", session::Access::kWrite);
  SilentProgress silent;
  DeliverOptions options;
  options.again = true;
  std::vector<session::Problem> problems;
  auto answer =
      DeliverAll(**session, folder_ / "out", record::Order{}, options, problems, {silent, Cancel()});
  return answer.ok() ? answer->written : 0;
}

inline double Delivery::Off(const image::RgbU8& pixels) const {
  std::vector<std::uint8_t> rows;
  const auto bytes = ReadFile(folder_ / "out" / "P100.jpg", 1u << 30);
  if (bytes.ok()) codec::peers::DecodeJpeg(*bytes, rows);
  if (rows.size() != pixels.data().size()) return 1000;
  double off = 0;
  for (std::size_t i = 0; i < rows.size(); i += 101)
    off += std::abs(static_cast<int>(rows[i]) - pixels.data()[i]);
  return off / (static_cast<double>(rows.size()) / 101);
}

inline int Frames(int usual) {
  const char* wish = std::getenv("SAMELIGHT_BENCH_FRAMES");
  return wish != nullptr ? std::max(2, std::atoi(wish)) : usual;
}

inline double PeakMib() {
  rusage usage{};
  ::getrusage(RUSAGE_SELF, &usage);
  return static_cast<double>(usage.ru_maxrss) / 1024;
}

}  // namespace samelight::job::bench
