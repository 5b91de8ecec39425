// Finds things of a report by their id. Holds pointers into the report; it must outlive the index.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <unordered_map>

#include "report/report.h"

namespace samelight::report {

struct Index {
  explicit Index(const Report& report);

  // Null or empty if the report does not hold it.
  const record::Photo* Photo(PhotoId id) const;
  const record::Pair* PairOfScan(PhotoId scan) const;
  const record::FrameSolution* Solution(PhotoId frame) const;
  const record::Light* LightOf(PhotoId photo) const;
  const record::Roll* RollOf(const record::Photo& scan) const;
  std::string NameOf(PhotoId id) const;
  std::string Output(PhotoId frame) const;
  bool Barred(PhotoId scan) const;
  // Capture time on the first body's clock; empty if the file names none.
  std::optional<std::int64_t> TimeUs(const record::Photo& photo) const;

 private:
  const Report& report_;
  std::unordered_map<PhotoId, const record::Photo*> photos_;
  std::unordered_map<PhotoId, const record::Pair*> pairs_;
  std::unordered_map<PhotoId, const record::FrameSolution*> solutions_;
  std::unordered_map<PhotoId, const record::Light*> lights_;
  std::unordered_map<RollId, const record::Roll*> rolls_;
  std::unordered_map<PhotoId, std::string> names_;
};

}  // namespace samelight::report
