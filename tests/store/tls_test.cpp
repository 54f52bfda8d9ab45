#include "canned_server.h"
#include "glassine/base/error.h"
#include "support/temp_folder.h"

#include <array>
#include <atomic>
#include <csignal>

#include <arpa/inet.h>
#include <catch2/catch.hpp>
#include <fmt/format.h>
#include <netinet/in.h>
#include <openssl/pem.h>
#include <openssl/ssl.h>
#include <openssl/x509v3.h>
#include <sys/socket.h>
#include <unistd.h>

namespace glassine::store {
namespace {

template <auto function>
struct Freed {
    template <typename T>
    void operator()(T* object) const {
        function(object);
    }
};
using Key = std::unique_ptr<EVP_PKEY, Freed<&EVP_PKEY_free>>;
using Certificate = std::unique_ptr<X509, Freed<&X509_free>>;

/// A certificate that vouches for itself, of a host ("IP:127.0.0.1", "DNS:store.example").
Certificate certificate_of(EVP_PKEY& key, const std::string& host) {
    Certificate certificate(X509_new());
    X509_set_version(certificate.get(), X509_VERSION_3);
    ASN1_INTEGER_set(X509_get_serialNumber(certificate.get()), 1);
    X509_gmtime_adj(X509_getm_notBefore(certificate.get()), -3600);
    X509_gmtime_adj(X509_getm_notAfter(certificate.get()), 3600);
    X509_set_pubkey(certificate.get(), &key);
    X509_NAME* const name = X509_get_subject_name(certificate.get());
    X509_NAME_add_entry_by_txt(name, "CN", MBSTRING_ASC,
                               reinterpret_cast<const unsigned char*>("test"), -1, -1, 0);
    X509_set_issuer_name(certificate.get(), name);
    X509_EXTENSION* const extension =
        X509V3_EXT_conf_nid(nullptr, nullptr, NID_subject_alt_name, host.c_str());
    X509_add_ext(certificate.get(), extension, -1);
    X509_EXTENSION_free(extension);
    X509_sign(certificate.get(), &key, EVP_sha256());
    return certificate;
}

/// Speaks TLS on 127.0.0.1 and answers every request with an empty 200.
class TlsServer {
  public:
    explicit TlsServer(const std::string& host)
        : key_(EVP_EC_gen("P-256")), certificate_(certificate_of(*key_, host)) {
        SSL_CTX_use_certificate(context_.get(), certificate_.get());
        SSL_CTX_use_PrivateKey(context_.get(), key_.get());
        sockaddr_in address{};
        address.sin_family = AF_INET;
        address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
        socklen_t size = sizeof address;
        auto* const any = reinterpret_cast<sockaddr*>(&address);
        REQUIRE(bind(listener_, any, size) == 0);
        REQUIRE(listen(listener_, 8) == 0);
        REQUIRE(getsockname(listener_, any, &size) == 0);
        port_ = ntohs(address.sin_port);
        thread_ = std::thread([this] {
            for (int peer = 0; (peer = accept(listener_, nullptr, nullptr)) >= 0; close(peer))
                serve(peer);
        });
    }
    ~TlsServer() {
        shutdown(listener_, SHUT_RDWR);
        thread_.join();
        close(listener_);
    }
    TlsServer(const TlsServer&) = delete;
    TlsServer& operator=(const TlsServer&) = delete;

    std::string endpoint() const { return fmt::format("https://127.0.0.1:{}", port_); }
    int requests() const { return requests_; }
    void write_certificate(const std::filesystem::path& path) const {
        const std::unique_ptr<BIO, Freed<&BIO_free>> file(BIO_new_file(path.c_str(), "w"));
        PEM_write_bio_X509(file.get(), certificate_.get());
    }

  private:
    void serve(int peer) {
        const std::unique_ptr<SSL, Freed<&SSL_free>> line(SSL_new(context_.get()));
        SSL_set_fd(line.get(), peer);
        std::array<char, 8192> head{};
        if (SSL_accept(line.get()) != 1 || SSL_read(line.get(), head.data(), head.size()) <= 0)
            return;
        ++requests_;
        const std::string answer = canned(200, {"Connection: close"}).bytes;
        SSL_write(line.get(), answer.data(), static_cast<int>(answer.size()));
    }

    const std::unique_ptr<SSL_CTX, Freed<&SSL_CTX_free>> context_{SSL_CTX_new(TLS_server_method())};
    const Key key_;
    const Certificate certificate_;
    const int listener_ = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    int port_ = 0;
    std::atomic<int> requests_{0};
    std::thread thread_;
};

/// What putting an object there ends with; empty when it is put.
std::string outcome(const TlsServer& server, const std::string& ca_file) {
    Settings settings;
    settings.endpoint = server.endpoint();
    settings.ca_file = ca_file;
    try {
        http_client(settings, {"key", "secret", ""}, {})->put({"attic-two", "x"}, {}, {});
    } catch (const Error& error) {
        return error.what();
    }
    return "";
}

}  // namespace

TEST_CASE("only a store with a certificate that is trusted gets a request") {
    std::signal(SIGPIPE, SIG_IGN);  // as the program has it
    const test::TempFolder folder;
    const std::string own = (folder / "own.pem").string();
    const TlsServer server("IP:127.0.0.1");
    server.write_certificate(own);

    CHECK_THAT(outcome(server, ""), Catch::Contains("certificate"));
    const std::string missing = (folder / "missing.pem").string();
    CHECK_THAT(outcome(server, missing), Catch::Contains("ca_file"));
    CHECK(server.requests() == 0);
    CHECK(outcome(server, own).empty());
    CHECK(server.requests() == 1);

    const TlsServer other("DNS:store.example");
    const std::string others = (folder / "others.pem").string();
    other.write_certificate(others);
    CHECK_THAT(outcome(other, others), Catch::Contains("certificate"));
    CHECK_THAT(outcome(other, own), Catch::Contains("certificate"));
    CHECK(other.requests() == 0);
}

}  // namespace glassine::store
