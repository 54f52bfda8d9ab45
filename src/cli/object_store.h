#pragma once

#include "glassine/store/object_file_system.h"

#include <map>
#include <memory>
#include <mutex>
#include <stop_token>
#include <string>

namespace glassine::cli {

/// An environment variable's value; empty when it is not set.
std::string environment(const char* name);

/// The object store of the studio file, connected to when a path in it is touched first.
class ObjectStore {
  public:
    ObjectStore(io::FileSystem& local, std::map<std::string, std::string> table,
                std::stop_token stop);

    /// The computer's own files and the store's.
    io::FileSystem& files() { return *files_; }
    store::ClientSource source();

  private:
    store::Client& client();

    io::FileSystem& local_;
    std::map<std::string, std::string> table_;
    std::stop_token stop_;
    std::mutex mutex_;
    std::unique_ptr<store::Client> client_;
    std::unique_ptr<io::FileSystem> files_;
};

}  // namespace glassine::cli
