// Tasks over threads. Each task writes to its own place, so the answer has the same bytes with any number of threads.
#pragma once

#include <atomic>
#include <cstddef>
#include <exception>
#include <functional>
#include <thread>
#include <vector>

#include "odds/work.hpp"

namespace tillwrap::cli {

inline void run_on_threads(unsigned threads, std::size_t count, const std::function<void(std::size_t)>& task) {
  std::atomic<std::size_t> next{0};
  std::vector<std::exception_ptr> failed(threads);
  std::vector<std::thread> running;
  for (unsigned k = 0; k < threads; ++k) {
    running.emplace_back([&, k] {
      try {
        for (std::size_t i = next++; i < count; i = next++) task(i);
      } catch (...) {
        failed[k] = std::current_exception();
        next = count;
      }
    });
  }
  for (std::thread& thread : running) thread.join();
  for (const std::exception_ptr& error : failed) {
    if (error) std::rethrow_exception(error);
  }
}

inline odds::Each on_threads(unsigned threads) {
  return [threads](std::size_t count, const std::function<void(std::size_t)>& task) {
    run_on_threads(threads, count, task);
  };
}

}  // namespace tillwrap::cli
