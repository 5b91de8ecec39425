#include "job/trait_store.h"

#include "base/file.h"
#include "base/hash.h"
#include "session/bytes.h"

namespace samelight::job {
namespace {

constexpr std::uint16_t kVersion = 2;

template <class A>
void Numbers(A& a, std::vector<double>& values) {
  auto count = static_cast<std::uint32_t>(values.size());
  a(count);
  if constexpr (A::kReads) {
    if (!a.Has(std::size_t{count} * sizeof(double))) return;
    values.resize(count);
  }
  for (double& v : values) a(v);
}

template <class A>
void One(A& a, std::string& source, render::Acutance& acutance) {
  auto& [side, ratio, weight, overshoot] = acutance;
  a(source);
  a(side);
  for (double& v : ratio) a(v);
  for (double& v : weight) a(v);
  a(overshoot);
}

template <class A>
void One(A& a, record::GrainModel& grain) {
  auto& [density, sigma, per_mm, power, red_green, green_blue, red_blue, pitch, side, patches] = grain;
  for (std::vector<double>* values : {&density, &sigma[0], &sigma[1], &sigma[2], &per_mm, &power})
    Numbers(a, *values);
  for (double* value : {&red_green, &green_blue, &red_blue, &pitch, &side}) a(*value);
  a(patches);
}

template <class A>
void Rolls(A& a, std::map<RollId, record::GrainModel>& rolls) {
  auto count = static_cast<std::uint32_t>(rolls.size());
  a(count);
  if constexpr (A::kReads) {
    for (std::uint32_t i = 0; i < count && a.Has(1); ++i) {
      RollId roll;
      a(roll);
      One(a, rolls[roll]);
    }
  } else {
    for (auto& [roll, grain] : rolls) {
      a(roll);
      One(a, grain);
    }
  }
}

template <class A>
void All(A& a, FilmTraits& traits) {
  One(a, traits.grain);
  Rolls(a, traits.roll_grain);
  a(traits.no_grain);
  auto count = static_cast<std::uint32_t>(traits.acutance.size());
  a(count);
  if constexpr (A::kReads) {
    for (std::uint32_t i = 0; i < count && a.Has(1); ++i) {
      std::string source;
      render::Acutance acutance;
      One(a, source, acutance);
      traits.acutance[source] = acutance;
    }
  } else {
    for (auto& [source, acutance] : traits.acutance) {
      std::string name = source;
      One(a, name, acutance);
    }
  }
}

}  // namespace

std::optional<FilmTraits> ReadTraits(const std::filesystem::path& file) {
  const Result<session::Bytes> bytes = ReadFile(file, 1u << 20);
  if (!bytes.ok() || bytes->size() < 32) return std::nullopt;
  ContentHash hash;
  hash.Add(bytes->data(), bytes->size() - 32);
  const session::Bytes body(bytes->begin(), bytes->end() - 32);
  if (hash.Hex() != std::string(bytes->end() - 32, bytes->end())) return std::nullopt;
  session::ByteReader reader(body);
  FilmTraits traits;
  if (reader.version() != kVersion) return std::nullopt;
  All(reader, traits);
  if (!reader.ok() || !reader.at_end()) return std::nullopt;
  return traits;
}

void KeepTraits(const std::filesystem::path& file, const FilmTraits& traits) {
  session::ByteWriter writer;
  FilmTraits copy = traits;
  writer(kVersion);
  All(writer, copy);
  session::Bytes bytes = writer.Take();
  ContentHash hash;
  hash.Add(bytes.data(), bytes.size());
  const std::string hex = hash.Hex();
  bytes.insert(bytes.end(), hex.begin(), hex.end());
  std::error_code ignored;
  std::filesystem::create_directories(file.parent_path(), ignored);
  static_cast<void>(WriteFileWhole(file, bytes));
}

}  // namespace samelight::job
