#pragma once

#include "flow/store_leftovers.h"
#include "glassine/flow/destination.h"
#include "glassine/store/client.h"

#include <map>
#include <set>
#include <string>
#include <string_view>

namespace glassine::flow {

inline constexpr std::string_view declaration_name = "bagit.txt";

/// Where the objects of one bag, or one object by itself, stand in a store: under which keys, what
/// stands there before, what has to go.
class ObjectPlace {
  public:
    /// What is published: a bag, by its declaration; or one object, by a copy within the store.
    enum class Holds { bag, single };

    ObjectPlace(store::Client& client, store::Address folder, std::string name, Holds holds);

    Holds holds() const { return holds_; }
    const store::Address& folder() const { return folder_; }
    const store::Address& root() const { return root_; }        ///< what names are below
    const store::Address& staging() const { return staging_; }  ///< for what waits
    store::Address published() const { return folder_.below(name_); }
    store::Address staged() const { return address_of(name_); }
    /// The declaration waits beside the bag until everything else is proven, and so does an object
    /// that is published by itself.
    store::Address address_of(std::string_view name) const;

    /// See `Destination::check`.
    void check(const Destination::Need& need) const;
    /// Error `not_supported` for a key that is too long.
    void check_key(const store::Address& address) const;
    Error already_there() const;

    std::map<std::string, Leftover> leftovers() const;
    /// From now on what stands here is ours.
    void put_mark(const std::string& content) const;
    /// Takes away what an interrupted run left and this one has no use for; `wanted` are keys.
    void remove_strays(const std::set<std::string>& wanted) const;
    void publish_single() const;
    void clear_staging() const;

  private:
    Error too_long(std::size_t bytes) const;

    store::Client& client_;
    Holds holds_;
    store::Address folder_;
    std::string name_;
    store::Address root_;
    store::Address staging_;
};

}  // namespace glassine::flow
