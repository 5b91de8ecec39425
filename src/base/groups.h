// Which things hang together, joined pair by pair.
#pragma once

#include <numeric>
#include <vector>

namespace samelight {

// A disjoint-set forest over 0 .. count - 1, with path compression (Tarjan 1975).
class Groups {
 public:
  explicit Groups(int count) : parent_(static_cast<std::size_t>(count)) {
    std::iota(parent_.begin(), parent_.end(), 0);
  }
  // The member that stands for the group of i.
  int Of(int i) {
    int root = i;
    while (parent_[root] != root) root = parent_[root];
    while (parent_[i] != root) {
      const int next = parent_[i];
      parent_[i] = root;
      i = next;
    }
    return root;
  }
  // The group of `b` goes into that of `a`, whose member goes on standing for both.
  void Join(int a, int b) { parent_[Of(b)] = Of(a); }

 private:
  std::vector<int> parent_;
};

}  // namespace samelight
