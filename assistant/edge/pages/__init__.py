"""What people and other programs read: pages, pictures, exports. Fills templates; judges nothing."""
