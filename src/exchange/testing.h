// For tests: an invented look in which every number is another one.
#pragma once

#include <cmath>

#include "record/learned_look.h"

namespace samelight::exchange {

template <class Numbers>
record::Belief SomeBelief(const Numbers& numbers, double at) {
  record::Belief belief;
  const int n = static_cast<int>(numbers.size());
  for (int i = 0; i < n; ++i) {
    const record::BeliefNumber& number = numbers[static_cast<std::size_t>(i)];
    const double middle = 0.5 * (number.least + number.most), half = 0.5 * (number.most - number.least);
    belief.mean.push_back(middle + 0.1 * half * std::sin(at + i));
  }
  for (int i = 0; i < n; ++i)
    for (int k = 0; k <= i; ++k)
      belief.covariance.push_back(0.01 * numbers[static_cast<std::size_t>(i)].widest *
                                  numbers[static_cast<std::size_t>(k)].widest * std::pow(0.6, i - k));
  return belief;
}

inline record::LearnedLook SomeLook() {
  record::LearnedLook look;
  look.name = "meadow, north lab";
  look.stock = "meadow";
  look.lab = "north lab";
  look.source = "body A raw";
  look.look = SomeBelief(record::LookNumbers(), 0);
  look.rule = SomeBelief(record::RuleNumbers(), 1);
  look.look_between = 0.25;
  look.rule_between = 0.5;
  look.level_sigma = 0.09;
  look.colour_sigma = 0.03;
  look.grain.density = {0.1, 0.8, 1.6};
  look.grain.sigma = {{{0.01, 0.02, 0.03}, {0.011, 0.021, 0.031}, {0.012, 0.022, 0.032}}};
  look.grain.per_mm = {0, 10, 40};
  look.grain.power = {1, 0.5, 0.1};
  look.grain.red_green = 0.3;
  look.grain.pitch_um = 12;
  look.grain.patches = 40;
  record::Lesson lesson;
  lesson.session = "spring";
  lesson.source = "body A raw";
  lesson.rolls = {"roll 1", "roll 2"};
  lesson.scans = 12;
  lesson.lights = 4;
  lesson.frames = 80;
  lesson.look = SomeBelief(record::LookNumbers(), 2);
  lesson.rule = SomeBelief(record::RuleNumbers(), 3);
  lesson.level_sigma = 0.08;
  lesson.colour_sigma = 0.02;
  look.lessons = {lesson, lesson};
  look.lessons[1].session = "autumn";
  return look;
}

}  // namespace samelight::exchange
