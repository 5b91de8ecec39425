// Random numbers that are the same on every machine and for any number of threads.
#pragma once

#include <cmath>
#include <cstdint>
#include <initializer_list>

namespace samelight::simulate {

// SplitMix64 (Steele, Lea, Flood 2014, OOPSLA). One stream per thing that is drawn: make a new Random from a
// seed and the numbers that name the thing, never share one between threads.
class Random {
 public:
  explicit Random(std::uint64_t seed, std::initializer_list<std::uint64_t> names = {}) : state_(seed) {
    for (std::uint64_t name : names) state_ = Next() ^ (name * 0xd1342543de82ef95ull);
    Next();
  }
  std::uint64_t Next() {
    std::uint64_t z = (state_ += 0x9e3779b97f4a7c15ull);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ull;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebull;
    return z ^ (z >> 31);
  }
  // [0, 1)
  double Uniform() { return static_cast<double>(Next() >> 11) * 0x1.0p-53; }
  double Uniform(double least, double most) { return least + (most - least) * Uniform(); }
  // 0 .. count - 1
  int Below(int count) { return static_cast<int>(Next() % static_cast<std::uint64_t>(count)); }
  bool Chance(double probability) { return Uniform() < probability; }
  // Standard normal by the polar-free Box-Muller transform.
  double Normal() {
    const double radius = std::sqrt(-2.0 * std::log(1.0 - Uniform()));
    return radius * std::cos(6.283185307179586 * Uniform());
  }
  double Normal(double mean, double deviation) { return mean + deviation * Normal(); }
  // About normal (sum of four uniforms, cut at 3.5), quick; for pixel noise.
  float QuickNormal() {
    const std::uint64_t bits = Next();
    const float sum = static_cast<float>((bits & 0xffff) + ((bits >> 16) & 0xffff) + ((bits >> 32) & 0xffff) +
                                         (bits >> 48));
    return (sum - 131070.0f) * (1.7320508f / 65536.0f);
  }

 private:
  std::uint64_t state_;
};

}  // namespace samelight::simulate
