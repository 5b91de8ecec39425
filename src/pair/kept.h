// What comparing photographs gave, kept from one pairing to the next: a late roll or card costs only what is
// new.
#pragma once

#include <array>
#include <atomic>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

#include "base/result.h"
#include "pair/verify.h"
#include "record/pair.h"

namespace samelight::pair {

// Photographs are known by their content hash; with an empty one nothing is kept and all is made again. Which
// results are there never changes an answer. Thread safe; two threads may make one result twice.
class Kept {
 public:
  // false: forgets everything at once.
  explicit Kept(bool keeps = true) : keeps_(keeps) {}

  enum Kind { kLikeness, kScanAndFrame, kFrames, kCells, kKinds };

  // Each gives what is kept of a and b, or makes it.
  double Likeness(const std::string& a, const std::string& b, const std::function<double()>& make);
  Verified Verification(Kind kind, const std::string& a, const std::string& b,
                        const std::function<Verified()>& make);
  // `most`: cells asked for. One without cells is not kept. The photographs' numbers are left to the caller.
  record::Correspondence Cells(const std::string& a, const std::string& b, int most,
                               const std::function<record::Correspondence()>& make);

  // How many of a kind were made, not found, since this was created.
  long made(Kind kind) const { return made_[kind]; }

  // Reads what Write wrote. kNotFound, kDamaged, kUnsupported (another version of the program): nothing is
  // kept then, which costs time only.
  Status Read(const std::filesystem::path& file);
  // Writes what was asked for since this was created; the rest is forgotten. The file appears whole or not at
  // all.
  Status Write(const std::filesystem::path& file) const;

 private:
  template <class T>
  struct Entry {
    T value{};
    bool used = false;
  };
  template <class T>
  using Map = std::unordered_map<std::string, Entry<T>>;
  template <class T>
  T Get(Map<T>& map, Kind kind, const std::string& a, const std::string& b, const std::string& detail,
        const std::function<T()>& make);

  bool keeps_;
  mutable std::mutex mutex_;
  Map<double> likeness_;
  Map<Verified> verified_;
  Map<record::Correspondence> cells_;
  std::array<std::atomic<long>, kKinds> made_{};
};

}  // namespace samelight::pair
