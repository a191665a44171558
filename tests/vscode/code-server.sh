#!/bin/sh
# code-server into .code-server, by npm alone. No package's script is run, so nothing is compiled: its log and its terminal go
# without their native parts, which no test needs. argon2 is a version that brings its own.
set -eu
cd "$(dirname "$0")/../.."
mkdir -p .code-server
cp tests/vscode/code-server/package.json .code-server
cd .code-server
npm install --ignore-scripts --no-audit --no-fund --no-package-lock
cd node_modules/code-server/lib/vscode
npm install --ignore-scripts --no-audit --no-fund --omit=dev
ln -sfn node_modules node_modules.asar
