#pragma once

#include "glassine/flow/distributor.h"
#include "glassine/flow/river.h"

#include <functional>
#include <memory>
#include <stop_token>

namespace glassine::flow {

/// Reads one file after another into a distributor. Several readers may work side by side.
class FileReader {
  public:
    struct Listener {
        std::function<void(std::uint64_t bytes)> on_bytes;
        std::function<void(const Item&, ByteRange, const std::string& why)> on_read_error;
    };

    FileReader(io::FileSystem& files, Distributor& distributor, const Options& options,
               Listener listener)
        : files_(files),
          distributor_(distributor),
          options_(options),
          listener_(std::move(listener)) {}

    /// Reads the whole file; never throws for what is wrong with it.
    Outcome read(const Item& item);
    /// How well the cache was passed by, over all files so far.
    io::Bypass bypass() const { return bypass_; }

  private:
    std::unique_ptr<io::InputFile> opened(Item& item);
    void read_open_file(const Item& item, io::InputFile& input, Distributor::File& file,
                        Outcome& outcome);
    std::size_t read_block(const Item& item, io::InputFile& input, Distributor::File& file,
                           std::uint64_t offset, std::uint64_t size, Outcome& outcome);
    std::size_t read_around_damage(const Item& item, io::InputFile& input, Distributor::File& file,
                                   ByteRange range, const std::string& why, Outcome& outcome);
    bool read_sector(io::InputFile& input, std::uint64_t offset, std::span<std::byte> into,
                     std::size_t& got, Outcome& outcome);
    void hand_over(Distributor::File& file, Distributor::Block block, std::uint64_t offset,
                   std::size_t length, Outcome& outcome);
    void note_gap(const Item& item, Distributor::File& file, ByteRange range,
                  const std::string& why, Outcome& outcome);
    bool stopped() const { return options_.stop.stop_requested() || distributor_.all_failed(); }

    io::FileSystem& files_;
    Distributor& distributor_;
    const Options& options_;
    Listener listener_;
    io::Bypass bypass_ = io::Bypass::direct;
};

}  // namespace glassine::flow
